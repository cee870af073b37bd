import { useSignal } from "@preact/signals";
import { useEffect, useRef, useState } from "preact/hooks";
import type { PanelInfo } from "../../api/types";
import { useSampled } from "../../lib/sampled";
import { theme } from "../../lib/theme";
import { compared } from "../../store";
import { cellAt, drawLevels, gridOf, segmentOf } from "./drawLevels";
import css from "./Levels.module.css";

const STEPS: Record<string, (at: number, columns: number) => number> = {
  ArrowRight: (at) => at + 1,
  ArrowLeft: (at) => at - 1,
  ArrowDown: (at, columns) => at + columns,
  ArrowUp: (at, columns) => at - columns,
  Home: () => 0,
  End: () => Infinity,
};

/** Asked over sent for every pixel of a panel, and the numbers of the one that is pointed at. */
export function Levels({ panel }: { panel: PanelInfo }) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const [width, setWidth] = useState(0);
  const at = useSignal(0);
  const pair = useSampled(compared);
  const asked = pair.asked?.rgb ?? null;
  const sent = pair.sent?.rgb ?? null;
  const grid = gridOf(panel.pixels, width);

  useEffect(() => {
    const element = canvas.current?.parentElement;
    if (!element) return;
    const observer = new ResizeObserver(() => setWidth(element.clientWidth));
    observer.observe(element);
    return () => observer.disconnect();
  }, []);
  useEffect(() => {
    if (canvas.current && width > 0) drawLevels(canvas.current, panel, grid, asked, sent, at.value);
  }, [panel, width, asked, sent, at.value, theme.value]);

  const choose = (pixel: number) => {
    at.value = Math.max(0, Math.min(panel.pixels - 1, pixel));
  };
  const numbers = (rgb: Uint8Array | null) => {
    const i = (panel.first_pixel + at.value) * 3;
    return rgb ? `R ${rgb[i]}  G ${rgb[i + 1]}  B ${rgb[i + 2]}` : "not arrived yet";
  };
  const where = `Pixel ${at.value + 1} of ${panel.pixels}, segment ${segmentOf(panel.segments, at.value) + 1}`;
  return (
    <div>
      <div
        class={css.strip}
        role="slider"
        tabIndex={0}
        aria-label="Pixel to read"
        aria-valuemin={1}
        aria-valuemax={panel.pixels}
        aria-valuenow={at.value + 1}
        aria-valuetext={`${where}; asked ${numbers(asked)}; sent ${numbers(sent)}`}
        onKeyDown={(event) => {
          const step = STEPS[event.key];
          if (!step) return;
          event.preventDefault();
          choose(step(at.value, grid.columns));
        }}
        onPointerMove={(event) => {
          const box = event.currentTarget.getBoundingClientRect();
          const pixel = cellAt(grid, event.clientX - box.left, event.clientY - box.top);
          if (pixel !== null && pixel < panel.pixels) choose(pixel);
        }}
      >
        <canvas ref={canvas} aria-hidden="true" />
      </div>
      <dl class={css.read} aria-hidden="true">
        <div class={css.where}>
          <dt>{where}</dt>
          <dd>0 to 255</dd>
        </div>
        <div>
          <dt>asked (upper)</dt>
          <dd>{numbers(asked)}</dd>
        </div>
        <div>
          <dt>sent (lower)</dt>
          <dd>{numbers(sent)}</dd>
        </div>
      </dl>
    </div>
  );
}
