import { useSignal } from "@preact/signals";
import buttons from "../../components/button.module.css";
import { Icon } from "../../components/Icon";
import { plural } from "../../lib/format";
import { colourWord, find, type Found, litBy, type Patch, portAddress, slotsOf } from "../../lib/patch";
import { focus, NOWHERE, pointAtPanel, pointAtPixel, pointAtSlot, wanted } from "./focus";
import css from "./Finder.module.css";

/** Jumps to a panel, a pixel, a slot, a serial or a node, and says what it is. */
export function Finder({ patch }: { patch: Patch }) {
  const text = useSignal("");
  const told = useSignal("");
  const go = (event: Event) => {
    event.preventDefault();
    if (text.value.trim() === "") return;
    const found = find(patch, text.value);
    jump(patch, found);
    told.value = words(patch, found);
  };
  return (
    <form class={css.finder} role="search" onSubmit={go}>
      <label class={css.label} for="patch-search">
        Find a panel, slot, serial or node
      </label>
      <div class={css.line}>
        <input
          id="patch-search"
          class={css.input}
          type="search"
          autocomplete="off"
          autocapitalize="off"
          spellcheck={false}
          placeholder="C4 or 0:0:3/121"
          value={text.value}
          onInput={(event) => {
            text.value = event.currentTarget.value;
          }}
        />
        <button type="submit" class={buttons.solid}>
          <Icon name="search" />
          Find
        </button>
      </div>
      <p class={css.told} role="status">
        {told.value}
      </p>
    </form>
  );
}

function jump(patch: Patch, found: Found): void {
  if (found.kind === "panel") pointAtPanel(patch, found.panel);
  else if (found.kind === "pixel") pointAtPixel(patch, found.panel, found.pixel);
  else if (found.kind === "node" && found.panels[0]) pointAtPanel(patch, found.panels[0]);
  else if (found.kind === "slot") {
    pointAtSlot(patch, found.flat, found.slot);
    wanted.value = { flat: found.flat };
  } else if (found.kind === "universe") {
    focus.value = NOWHERE;
    wanted.value = { flat: found.flat };
  }
}

function words(patch: Patch, found: Found): string {
  const ranges = (list: readonly { flat: number; first_slot: number; last_slot: number }[]) =>
    list.map((r) => `${portAddress(r.flat)}/${r.first_slot}–${r.last_slot}`).join(", ");
  switch (found.kind) {
    case "panel": {
      const { panel } = found;
      const by = panel.node ? ` from node ${panel.node}` : "";
      return `Panel ${panel.position}${panel.serial && `, serial ${panel.serial}`}: ${plural(panel.pixels, "pixel")}, slots ${ranges(patch.byPanel.get(panel.position) ?? [])}${by}.`;
    }
    case "pixel":
      return `Pixel ${found.pixel - found.panel.first_pixel + 1} of panel ${found.panel.position}: slots ${ranges(slotsOf(patch, found.panel, found.pixel))}.`;
    case "slot": {
      const lit = litBy(patch, found.flat, found.slot);
      const what = lit.map((l) => `panel ${l.panel.position}, pixel ${l.pixel - l.panel.first_pixel + 1}, ${colourWord(l.letter)}`);
      return `Slot ${found.slot} of ${portAddress(found.flat)} lights ${what.join(" and ") || "nothing: the file does not map it"}.`;
    }
    case "universe": {
      const panels = new Set((patch.byUniverse.get(found.flat) ?? []).map((s) => s.panel.position));
      return `Universe ${portAddress(found.flat)}, number ${found.flat}: ${panels.size > 0 ? `panels ${[...panels].join(", ")}` : "the file does not map it"}.`;
    }
    case "node":
      return `Node ${found.name} drives ${plural(found.panels.length, "panel")}: ${found.panels.map((p) => p.position).join(", ")}.`;
    case "nothing":
      return found.why;
  }
}
