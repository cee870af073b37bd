import { useSignal } from "@preact/signals";
import type { State } from "../../api/types";
import { Empty } from "../../components/Empty";
import { Notices } from "../../components/Notices";
import { type Layout, selected } from "../../store";
import { FloorTools } from "./FloorTools";
import { Inspector } from "./Inspector";
import { PanelPicker } from "./PanelPicker";
import { Stage } from "./Stage";
import css from "./FloorPage.module.css";

export function FloorPage({ layout, state }: { layout: Layout; state: State }) {
  const labels = useSignal(true);
  const panel = layout.floor.panels.find((p) => p.position === selected.value);
  const now = panel && state.panels.find((p) => p.position === panel.position);
  return (
    <div class={css.page}>
      <div class={css.plan}>
        <FloorTools labels={labels} />
        <Stage layout={layout} state={state} labels={labels.value} />
      </div>
      <aside class={css.side} aria-label="Panel inspector">
        <PanelPicker floor={layout.floor} />
        {panel && now ? (
          <Inspector key={panel.position} floor={layout.floor} panel={panel} now={now} state={state} />
        ) : (
          <Empty icon="floor" title="No panel chosen">
            Tap a panel on the plan, or choose one from the list above. With the plan in focus the arrow keys move from
            panel to panel.
          </Empty>
        )}
        <div class={css.notices}>
          <Notices notices={state.notices} />
        </div>
      </aside>
    </div>
  );
}
