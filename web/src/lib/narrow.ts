import { signal } from "@preact/signals";

/** Whether tables should become cards. */
export const narrow = signal(false);

export function watchWidth(): void {
  const query = window.matchMedia("(max-width: 760px)");
  const read = () => {
    narrow.value = query.matches;
  };
  read();
  query.addEventListener("change", read);
}
