import { guest, hasBook } from "../store";
import { hashOf, isThere, page, type Page } from "../lib/route";
import { Icon, type IconName } from "./Icon";
import css from "./Sections.module.css";

const SECTIONS: readonly { name: Page; word: string; icon: IconName }[] = [
  { name: "faults", word: "Faults", icon: "faults" },
  { name: "survey", word: "Survey", icon: "search" },
  { name: "panels", word: "Panels", icon: "floor" },
  { name: "bench", word: "Bench", icon: "test" },
  { name: "rebuild", word: "Rebuild", icon: "walk" },
  { name: "labels", word: "Labels", icon: "code" },
];

/** The ways between the pages about what is dead and the book. */
export function Sections() {
  const there = SECTIONS.filter(({ name }) => isThere(name, { book: hasBook.value, guest: guest.value }));
  if (there.length < 2) return null;
  const at: Page = page.value === "panel" ? "panels" : page.value;
  return (
    <nav class={css.nav} aria-label="Faults and repairs">
      {there.map(({ name, word, icon }) => (
        <a key={name} class={css.link} href={hashOf(name)} aria-current={page.value === name ? "page" : at === name ? "true" : undefined}>
          <Icon name={icon} />
          {word}
        </a>
      ))}
    </nav>
  );
}
