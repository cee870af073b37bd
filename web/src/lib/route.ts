import { signal } from "@preact/signals";

export const PAGES = ["floor", "power", "nodes", "signal", "patch", "test"] as const;
export type Page = (typeof PAGES)[number];

/** The page that a hash such as `#/power` names; the floor for all else. */
export function pageOf(hash: string): Page {
  const word = hash.replace(/^#\/?/, "");
  return PAGES.find((page) => page === word) ?? "floor";
}

export const page = signal<Page>("floor");

export function followHash(): void {
  const read = () => {
    page.value = pageOf(location.hash);
  };
  read();
  window.addEventListener("hashchange", read);
}
