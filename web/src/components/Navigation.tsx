import { entryOf, isThere, page, PAGES } from "../lib/route";
import { guest } from "../store";
import { Icon } from "./Icon";
import css from "./Navigation.module.css";

const WORD: Record<(typeof PAGES)[number], string> = { floor: "Floor", faults: "Faults", power: "Power", nodes: "Nodes", signal: "Signal", patch: "Patch", test: "Test" };

export function Navigation() {
  return (
    <nav class={css.nav} aria-label="Pages">
      {PAGES.filter((name) => isThere(name, { book: true, guest: guest.value })).map((name) => (
        <a key={name} class={css.link} href={`#/${name}`} aria-current={page.value === name ? "page" : entryOf(page.value) === name ? "true" : undefined}>
          <Icon name={name} size={18} />
          {WORD[name]}
        </a>
      ))}
    </nav>
  );
}
