import { signal } from "@preact/signals";

export const PAGES = ["floor", "faults", "power", "nodes", "signal", "patch", "test"] as const;
type Entry = (typeof PAGES)[number];
/** Pages that are reached from another one, which stays marked in the navigation. */
const BELOW = {
  stepping: "test",
  survey: "faults",
  panels: "faults",
  panel: "faults",
  bench: "faults",
  rebuild: "faults",
  labels: "faults",
} as const satisfies Record<string, Entry>;
export type Page = Entry | keyof typeof BELOW;

/** Pages that are nothing without the book of repairs. */
const OF_BOOK: ReadonlySet<Page> = new Set<Page>(["panels", "panel", "bench", "rebuild", "labels"]);

/** Pages that are there only to change something. */
const OF_CONTROL: ReadonlySet<Page> = new Set<Page>(["test", "stepping", "survey", "bench", "rebuild", "labels"]);

/** Whether a page is there, with or without a book and for guests. */
export const isThere = (page: Page, { book, guest }: { book: boolean; guest: boolean }): boolean =>
  (book || !OF_BOOK.has(page)) && !(guest && OF_CONTROL.has(page));

const ALL: readonly Page[] = [...PAGES, ...(Object.keys(BELOW) as (keyof typeof BELOW)[])];

/** The entry of the navigation that a page belongs to. */
export const entryOf = (page: Page): Entry => (page in BELOW ? BELOW[page as keyof typeof BELOW] : (page as Entry));

const parts = (hash: string) => /^#?\/?([^/]*)(?:\/(.*))?$/.exec(hash);

/** The page that a hash such as `#/power` names; the floor for all else. */
export function pageOf(hash: string): Page {
  const word = parts(hash)?.[1] ?? "";
  return ALL.find((page) => page === word) ?? "floor";
}

/** What a hash says behind its page, such as the serial of `#/panel/M017`; empty if nothing. */
export function argumentOf(hash: string): string {
  const rest = parts(hash)?.[2] ?? "";
  try {
    return decodeURIComponent(rest);
  } catch {
    // A lone per cent sign stands for itself.
    return rest;
  }
}

/** The hash of a page and what it is about. */
export const hashOf = (page: Page, about?: string): string => `#/${page}${about === undefined || about === "" ? "" : `/${encodeURIComponent(about)}`}`;

export const page = signal<Page>("floor");
/** What the page is about: a serial, or positions. */
export const argument = signal("");

export function followHash(): void {
  const read = () => {
    page.value = pageOf(location.hash);
    argument.value = argumentOf(location.hash);
  };
  read();
  window.addEventListener("hashchange", read);
}
