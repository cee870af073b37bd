import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import type { State } from "../../api/types";
import { Empty } from "../../components/Empty";
import { Notices } from "../../components/Notices";
import { narrow } from "../../lib/narrow";
import { type Layout, selected } from "../../store";
import { FloorTools } from "./FloorTools";
import { Inspector } from "./Inspector";
import { PanelPicker } from "./PanelPicker";
import { Stage } from "./Stage";
import css from "./FloorPage.module.css";

export function FloorPage({ layout, state }: { layout: Layout; state: State }) {
  // On a phone the names would hide the pixels of all but the smallest floors.
  const labels = useSignal(!narrow.peek());
  const side = useRef<HTMLElement>(null);
  const plan = useRef<HTMLDivElement>(null);
  const first = useRef(true);
  useEffect(() => {
    const began = first.current;
    first.current = false;
    if (began || !narrow.peek()) return;
    // Where the inspector lies below the plan a choice would go unseen; leaving it leads back to the plan.
    if (selected.value !== null) side.current?.scrollIntoView({ block: "start" });
    else plan.current?.scrollIntoView({ block: "nearest" });
  }, [selected.value]);
  const panel = layout.floor.panels.find((p) => p.position === selected.value);
  const now = panel && state.panels.find((p) => p.position === panel.position);
  const notices = (
    <div class={css.notices}>
      <Notices notices={state.notices} all />
    </div>
  );
  return (
    <div class={css.page}>
      <div ref={plan} class={css.plan}>
        <FloorTools labels={labels} />
        <Stage layout={layout} state={state} labels={labels.value} />
      </div>
      <aside ref={side} class={css.side} aria-label="Panel inspector">
        {!panel && notices}
        <PanelPicker floor={layout.floor} />
        {panel && now ? (
          <Inspector key={panel.position} floor={layout.floor} panel={panel} now={now} state={state} />
        ) : (
          <Empty icon="floor" title="No panel chosen">
            Tap a panel on the plan, or choose one from the list above. With the plan in focus the arrow keys move from
            panel to panel.
          </Empty>
        )}
        {panel && notices}
      </aside>
    </div>
  );
}
