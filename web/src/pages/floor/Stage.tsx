import { useSignalEffect } from "@preact/signals";
import { useEffect, useRef, useState } from "preact/hooks";
import type { State } from "../../api/types";
import buttons from "../../components/button.module.css";
import { Icon } from "../../components/Icon";
import { neighbour } from "../../lib/geometry";
import { percent, plural } from "../../lib/format";
import { silentNodes } from "../../lib/nodes";
import { starving } from "../../lib/voltages";
import { type Layout, levels, selected, view, voltages, watchOnly } from "../../store";
import { listen, type StageInput } from "./input";
import { Painter } from "./Painter";
import css from "./Stage.module.css";

interface Props {
  layout: Layout;
  state: State;
  labels: boolean;
}

/** The plan: three canvases on top of each other (panels, pixels, marks) and what moves them. */
export function Stage({ layout, state, labels }: Props) {
  const box = useRef<HTMLDivElement>(null);
  const canvases = [useRef<HTMLCanvasElement>(null), useRef<HTMLCanvasElement>(null), useRef<HTMLCanvasElement>(null)];
  const [painter, setPainter] = useState<Painter | null>(null);

  useEffect(() => {
    const stage = box.current;
    const [base, pixels, marks] = canvases.map((c) => c.current);
    if (!stage || !base || !pixels || !marks) return;
    const made = new Painter({ stage, base, pixels, marks }, layout);
    const positions = layout.floor.panels.map((p) => p.position);
    const input: StageInput = {
      pan: (dx, dy) => made.pan(dx, dy),
      zoom: (factor, x, y) => made.zoom(factor, x, y),
      fit: () => made.fit(),
      tap: (x, y) => {
        selected.value = made.panelAt(x, y)?.position ?? null;
      },
      step: (way) => {
        const from = selected.value;
        const next = from === null ? positions[0] : neighbour(positions, from, way);
        if (next) {
          selected.value = next;
          made.reveal(next);
        }
      },
      clear: () => {
        selected.value = null;
      },
    };
    const deaf = listen(stage, input);
    const observer = new ResizeObserver(() => made.resize());
    observer.observe(stage);
    setPainter(made);
    return () => {
      deaf();
      observer.disconnect();
      made.stop();
    };
  }, [layout]);

  const silent = silentNodes(state.nodes, state.uptime_s);
  const starved = starving(voltages.value, layout.floor);
  useSignalEffect(() => {
    const picture = levels[view.value].value;
    painter?.show(picture);
  });
  useEffect(() => painter?.show(levels[view.value].peek()), [painter, view.value]);
  useEffect(() => {
    painter?.mark({ labels, selected: selected.value, panels: state.panels, silent, starving: starved });
  }, [painter, labels, selected.value, state, voltages.value]);

  const unknown = layout.floor.panels.filter((p) => p.node !== null && silent.has(p.node));
  const dimmed = state.panels.filter((p) => p.scale < 1);
  const panel = state.panels.find((p) => p.position === selected.value);
  const middle = () => [(box.current?.clientWidth ?? 0) / 2, (box.current?.clientHeight ?? 0) / 2] as const;
  return (
    <div class={css.frame} style={{ "--shape": layout.floor.height_mm / layout.floor.width_mm }}>
      <div
        ref={box}
        class={css.stage}
        role="application"
        tabIndex={0}
        aria-label="Plan of the floor"
        aria-describedby="stage-help"
      >
        {canvases.map((ref, i) => (
          <canvas key={i} ref={ref} class={css.layer} data-layer={["base", "pixels", "marks"][i]} aria-hidden="true" />
        ))}
      </div>
      <p id="stage-help" class={css.hidden}>
        Arrow keys move from panel to panel. Plus and minus zoom, 0 shows the whole floor, Shift with an arrow key
        moves the plan, Escape leaves the panel.
      </p>
      <p class={css.hidden} role="status">
        {!panel
          ? "No panel chosen"
          : `Panel ${panel.position}${watchOnly.value ? "" : `, scale in all ${percent(panel.scale)}`}`}
      </p>
      <div class={css.foot}>
        <p class={css.legend}>
          {!watchOnly.value && (
            <span>
              {dimmed.length > 0 && <i class={css.corner} aria-hidden="true" />}
              {dimmed.length > 0
                ? `${plural(dimmed.length, "panel")} dimmed by the cap`
                : "No panel is dimmed by the cap"}
            </span>
          )}
          {unknown.length > 0 && (
            <span title={`${[...silent].join(", ")}: no answer, so what these panels show is not known`}>
              <i class={css.silent} aria-hidden="true" />
              {plural(unknown.length, "panel")} of a silent node
            </span>
          )}
          {starved.size > 0 && (
            <span title="Computed from cables and strips in the floor file: see the page Power">
              <i class={css.sagging} aria-hidden="true" />
              {plural(starved.size, "panel")} short of voltage
            </span>
          )}
          {layout.floor.grid.empty.length > 0 && (
            <span>
              <i class={css.hatch} aria-hidden="true" />
              {plural(layout.floor.grid.empty.length, "empty place")}
            </span>
          )}
        </p>
        <div class={css.zoom} role="group" aria-label="Zoom">
          <button type="button" class={buttons.plain} aria-label="Zoom in" onClick={() => painter?.zoom(1.4, ...middle())}>
            <Icon name="plus" size={18} />
          </button>
          <button
            type="button"
            class={buttons.plain}
            aria-label="Zoom out"
            onClick={() => painter?.zoom(1 / 1.4, ...middle())}
          >
            <Icon name="minus" size={18} />
          </button>
          <button type="button" class={buttons.plain} aria-label="Show the whole floor" onClick={() => painter?.fit()}>
            <Icon name="fit" size={18} />
          </button>
        </div>
      </div>
    </div>
  );
}
