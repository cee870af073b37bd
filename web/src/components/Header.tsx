import { narrow } from "../lib/narrow";
import { page } from "../lib/route";
import { guest, layout } from "../store";
import css from "./Header.module.css";

export function Header({ toPage }: { toPage(): void }) {
  const floor = layout.value?.floor;
  return (
    <header class={css.header}>
      <a
        class={css.skip}
        href={`#/${page.value}`}
        onClick={(event) => {
          event.preventDefault();
          toPage();
        }}
      >
        Skip to the page
      </a>
      <svg class={css.mark} viewBox="0 0 22 22" width="22" height="22" aria-hidden="true">
        <rect class={css.lit} x="0" y="0" width="10" height="10" rx="2" />
        <rect class={css.unlit} x="12" y="0" width="10" height="10" rx="2" />
        <rect class={css.unlit} x="0" y="12" width="10" height="10" rx="2" />
        <rect class={css.other} x="12" y="12" width="10" height="10" rx="2" />
      </svg>
      <h1 class={css.name}>
        {/* On a phone the mark stands for it: the name of the floor tells more. */}
        {!(narrow.value && floor) && <span>litfloor</span>}
        {floor && <span class={css.floor}>{floor.name}</span>}
      </h1>
      {floor?.simulated && (
        <strong class={css.badge} title="Console, nodes and light are simulated: nothing real is lit">
          {narrow.value ? "Demo" : "Demo – simulated"}
        </strong>
      )}
      {guest.value && (
        <strong class={css.badge} title="This address is for guests: it shows the floor and changes nothing">
          Guests
        </strong>
      )}
    </header>
  );
}
