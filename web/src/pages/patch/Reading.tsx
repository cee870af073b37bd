import type { UniverseSlots } from "../../api/decode";
import { colourWord, litBy, type LitBy, type Patch, portAddress, slotsOf } from "../../lib/patch";
import { slots } from "../../store";
import { focus } from "./focus";
import css from "./Reading.module.css";

/** What is pointed at, in words. */
export function Reading({ patch }: { patch: Patch }) {
  const { panel, pixel, at } = focus.value;
  const now = at && slots.value.get(at.flat);
  return (
    <div id="slot-reading" class={css.reading} aria-live="polite">
      {at ? (
        <>
          <strong class={css.where}>
            {portAddress(at.flat)}/{at.slot}
          </strong>
          <span>{level(now, at.slot)}</span>
          {litBy(patch, at.flat, at.slot).map((lit) => (
            <Lights key={lit.panel.position} lit={lit} />
          ))}
          {litBy(patch, at.flat, at.slot).length === 0 && <span>lights nothing</span>}
        </>
      ) : panel ? (
        <>
          <strong class={css.where}>{panel.position}</strong>
          <span>
            {(patch.byPanel.get(panel.position) ?? [])
              .map((s) => `${portAddress(s.flat)}, slots ${s.first_slot} to ${s.last_slot}`)
              .join("; ") || "gets no slots"}
          </span>
          {panel.serial && <span>serial {panel.serial}</span>}
        </>
      ) : (
        <span class={css.hint}>Point at a slot, or tap a pixel on the plan: each shows the other.</span>
      )}
      {panel && pixel !== null && (
        <span class={css.more}>
          its slots:{" "}
          {slotsOf(patch, panel, pixel)
            .map((r) => `${portAddress(r.flat)}/${r.first_slot}–${r.last_slot}`)
            .join(", ")}
          {panel.serial && ` · serial ${panel.serial}`}
          {panel.node && ` · node ${panel.node}${panel.port === null ? "" : `, port ${panel.port}`}`}
        </span>
      )}
    </div>
  );
}

function Lights({ lit }: { lit: LitBy }) {
  return (
    <span>
      {lit.panel.position}, pixel {lit.pixel - lit.panel.first_pixel + 1}, {colourWord(lit.letter)}
    </span>
  );
}

function level(now: UniverseSlots | null | undefined, slot: number): string {
  if (!now || now.ageMs === null) return "has not arrived";
  if (slot > now.length) return "behind the end of the frame";
  const moves = ((now.moving[(slot - 1) >> 3] ?? 0) >> ((slot - 1) & 7)) & 1;
  const value = now.levels[slot - 1] ?? 0;
  return `level ${value}, ${moves ? "moving" : value > 0 ? "still" : "still and dark"}`;
}
