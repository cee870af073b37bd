import type { Floor } from "../../api/types";
import { selected } from "../../store";
import css from "./PanelPicker.module.css";

/** The same choice as on the plan, for keyboards and screen readers. */
export function PanelPicker({ floor }: { floor: Floor }) {
  return (
    <div class={css.picker}>
      <label class={css.label} for="panel-picker">
        Panel
      </label>
      <select
        id="panel-picker"
        class={css.select}
        value={selected.value ?? ""}
        onChange={(event) => {
          selected.value = event.currentTarget.value || null;
        }}
      >
        <option value="">none chosen</option>
        {floor.panels.map((panel) => (
          <option key={panel.position} value={panel.position}>
            {panel.position} – {panel.kind}, feed {panel.feed}
          </option>
        ))}
      </select>
    </div>
  );
}
