import { useSignal } from "@preact/signals";
import { useEffect, useRef, useState } from "preact/hooks";
import type { LevelsMessage } from "../../api/decode";
import type { Floor, PanelInfo } from "../../api/types";
import { mixInto } from "../../lib/light";
import { kindOf, lettersOf, levelWords, mixesOf } from "../../lib/pixels";
import { useSampled } from "../../lib/sampled";
import { theme } from "../../lib/theme";
import { compared, watchOnly } from "../../store";
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

/** Asked over sent for every pixel of a panel (one picture where nothing is capped), and the numbers of the one that is pointed at. */
export function Levels({ panel, floor }: { panel: PanelInfo; floor: Floor }) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const [width, setWidth] = useState(0);
  const at = useSignal(0);
  const pair = useSampled(compared);
  const only = watchOnly.value;
  const { sent } = pair;
  // Where nothing is capped the one picture is both.
  const asked = only ? sent : pair.asked;
  const letters = lettersOf(kindOf(panel, floor));
  const grid = gridOf(panel.pixels, width);

  useEffect(() => {
    const element = canvas.current?.parentElement;
    if (!element) return;
    const observer = new ResizeObserver(() => setWidth(element.clientWidth));
    observer.observe(element);
    return () => observer.disconnect();
  }, []);
  useEffect(() => {
    if (canvas.current && width > 0) drawLevels(canvas.current, panel, grid, cells(asked, panel, floor), cells(sent, panel, floor), at.value);
  }, [panel, width, asked, sent, at.value, theme.value]);

  const choose = (pixel: number) => {
    at.value = Math.max(0, Math.min(panel.pixels - 1, pixel));
  };
  const numbers = (picture: LevelsMessage | null) =>
    picture ? levelWords(picture.levels, picture.channels, panel.first_pixel + at.value, letters) : "not arrived yet";
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
        aria-valuetext={only ? `${where}; arrives ${numbers(sent)}` : `${where}; asked ${numbers(asked)}; sent ${numbers(sent)}`}
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
        {!only && (
          <div>
            <dt>asked (upper)</dt>
            <dd>{numbers(asked)}</dd>
          </div>
        )}
        <div>
          <dt>{only ? "as it arrives" : "sent (lower)"}</dt>
          <dd>{numbers(sent)}</dd>
        </div>
      </dl>
    </div>
  );
}

/** Screen colours of a panel's own pixels. */
function cells(picture: LevelsMessage | null, panel: PanelInfo, floor: Floor): ((pixel: number) => string) | null {
  if (!picture) return null;
  const { first_pixel, pixels } = panel;
  const own = picture.levels.subarray(first_pixel * picture.channels, (first_pixel + pixels) * picture.channels);
  const screen = new Uint8Array(pixels * 3);
  const alone = { pixel_kinds: floor.pixel_kinds, panels: [{ ...panel, first_pixel: 0 }] };
  mixInto(screen, own, picture.channels, mixesOf(alone, pixels));
  return (pixel) => `rgb(${screen[3 * pixel]} ${screen[3 * pixel + 1]} ${screen[3 * pixel + 2]})`;
}
