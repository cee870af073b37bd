import { signal } from "@preact/signals";

export const PAGES = ["floor", "power", "nodes", "signal", "patch", "test"] as const;
type Entry = (typeof PAGES)[number];
/** Pages that are reached from another one, which stays marked in the navigation. */
const BELOW = { stepping: "test" } as const satisfies Record<string, Entry>;
export type Page = Entry | keyof typeof BELOW;

const ALL: readonly Page[] = [...PAGES, ...(Object.keys(BELOW) as (keyof typeof BELOW)[])];

/** The entry of the navigation that a page belongs to. */
export const entryOf = (page: Page): Entry => (page in BELOW ? BELOW[page as keyof typeof BELOW] : (page as Entry));

/** The page that a hash such as `#/power` names; the floor for all else. */
export function pageOf(hash: string): Page {
  const word = hash.replace(/^#\/?/, "");
  return ALL.find((page) => page === word) ?? "floor";
}

export const page = signal<Page>("floor");

export function followHash(): void {
  const read = () => {
    page.value = pageOf(location.hash);
  };
  read();
  window.addEventListener("hashchange", read);
}
