import { useLayoutEffect, useRef, useState } from "preact/hooks";
import type { PanelInfo, StepAnswer } from "../../api/types";
import { Icon } from "../../components/Icon";
import { type Direction, neighbour, pitchMm } from "../../lib/geometry";
import { surroundings } from "../../lib/sight";
import { FINGER_PX, pointAnswer, tapScale } from "../../lib/walk";
import type { Layout } from "../../store";
import { WAYS } from "./PanelTap";
import { Ground } from "./Picture";
import css from "./Tap.module.css";
import buttons from "../../components/button.module.css";

interface Props {
  layout: Layout;
  near: string | null;
  /** The point that was tapped and is on its way. */
  chosen: StepAnswer | null;
  blocked: boolean;
  onPick(answer: StepAnswer): void;
}

/** One panel and half of its neighbours, each pixel large enough for a finger where that can be. */
export function PixelTap({ layout, near, chosen, blocked, onPick }: Props) {
  const { floor } = layout;
  const [at, setAt] = useState(near ?? floor.panels[0]?.position ?? "");
  const panel = floor.panels.find((p) => p.position === at) ?? floor.panels[0];
  if (!panel) return null;
  return (
    <div class={css.parts}>
      <Mover layout={layout} at={panel.position} go={setAt} />
      <Stage key={panel.position} layout={layout} panel={panel} chosen={chosen} blocked={blocked} onPick={onPick} />
      <p class={css.hint}>Push the picture about with your finger until you see the place, then tap the pixel. Half of each neighbour is shown.</p>
    </div>
  );
}

const ARROWS: { way: Direction; word: string; turn: number }[] = [
  { way: "left", word: "Left", turn: 180 },
  { way: "up", word: "Up", turn: -90 },
  { way: "down", word: "Down", turn: 90 },
  { way: "right", word: "Right", turn: 0 },
];

/** The light may be elsewhere: to another panel, step by step or at once. */
function Mover({ layout, at, go }: { layout: Layout; at: string; go(position: string): void }) {
  const positions = layout.floor.panels.map((p) => p.position);
  return (
    <div class={css.mover} role="group" aria-label="Panel that is shown">
      <label class={css.picker}>
        <span>Panel</span>
        <select value={at} onChange={(event) => go(event.currentTarget.value)}>
          {positions.map((position) => (
            <option key={position} value={position}>
              {position}
            </option>
          ))}
        </select>
      </label>
      {ARROWS.map(({ way, word, turn }) => {
        const next = neighbour(positions, at, way);
        return (
          <button
            key={way}
            type="button"
            class={`${buttons.solid} ${css.arrow}`}
            aria-label={next ? `${word}: ${next}` : `${word}: no panel`}
            disabled={next === null}
            onClick={() => next && go(next)}
          >
            <span style={{ transform: `rotate(${turn}deg)` }}>
              <Icon name="next" size={20} />
            </span>
          </button>
        );
      })}
    </div>
  );
}

function Stage({ layout, panel, chosen, blocked, onPick }: Omit<Props, "near"> & { panel: PanelInfo }) {
  const { floor, xyMm } = layout;
  const box = useRef<HTMLDivElement>(null);
  const [room, setRoom] = useState(0);
  const [focus, setFocus] = useState(0);
  const frame = surroundings(panel);
  const pitch = Math.min(pitchMm(xyMm, [panel]), panel.width_mm, panel.height_mm);
  const scale = tapScale(pitch, panel, room);

  useLayoutEffect(() => {
    const measure = () => setRoom(box.current?.clientWidth ?? 0);
    measure();
    window.addEventListener("resize", measure);
    return () => window.removeEventListener("resize", measure);
  }, []);
  useLayoutEffect(() => {
    if (!box.current || room === 0) return;
    box.current.scrollLeft = (frame.width * scale - box.current.clientWidth) / 2;
    box.current.scrollTop = (frame.height * scale - box.current.clientHeight) / 2;
  }, [room]);

  const tap = (event: MouseEvent) => {
    if (blocked) return;
    const sheet = event.currentTarget as HTMLElement;
    const pixel = (event.target as Element).closest<HTMLElement>("[data-pixel]")?.dataset["pixel"];
    const { left, top } = sheet.getBoundingClientRect();
    // A key presses a button without a place.
    const byKey = event.detail === 0 && pixel !== undefined;
    const x = byKey ? xyMm[2 * Number(pixel)]! : frame.x + (event.clientX - left) / scale;
    const y = byKey ? xyMm[2 * Number(pixel) + 1]! : frame.y + (event.clientY - top) / scale;
    const answer = pointAnswer(floor.panels, x, y);
    if (answer) onPick(answer);
  };
  const move = (event: KeyboardEvent) => {
    const way = WAYS[event.key];
    if (!way) return;
    event.preventDefault();
    const next = pixelTowards(xyMm, panel, panel.first_pixel + focus, way);
    if (next === null) return;
    setFocus(next - panel.first_pixel);
    box.current?.querySelector<HTMLElement>(`[data-pixel="${next}"]`)?.focus();
  };
  const spot = Math.max(12, Math.min(FINGER_PX, pitch * scale));
  const mark = chosen?.kind === "point" ? floor.panels.find((p) => p.position === chosen.position) : undefined;
  return (
    <div ref={box} class={`${css.box} ${css.close}`} data-pixels>
      <div
        class={css.sheet}
        role="group"
        aria-label={`Pixels of panel ${panel.position}`}
        style={{ width: `${frame.width * scale}px`, height: `${frame.height * scale}px` }}
        onClick={tap}
        onKeyDown={move}
      >
        <svg class={css.ground} viewBox={`${frame.x} ${frame.y} ${frame.width} ${frame.height}`} aria-hidden="true">
          <Ground layout={layout} frame={frame} lit={new Set([panel.position])} pitch={pitch * 2} />
          {mark && chosen?.kind === "point" && (
            <circle class={css.mark} cx={mark.x_mm + chosen.x_mm} cy={mark.y_mm + chosen.y_mm} r={pitch * 0.42} />
          )}
        </svg>
        {room > 0 &&
          Array.from({ length: panel.pixels }, (_, i) => panel.first_pixel + i).map((pixel, i) => (
            <button
              key={pixel}
              type="button"
              class={css.pixel}
              style={{
                left: `${(xyMm[2 * pixel]! - frame.x) * scale - spot / 2}px`,
                top: `${(xyMm[2 * pixel + 1]! - frame.y) * scale - spot / 2}px`,
                width: `${spot}px`,
                height: `${spot}px`,
              }}
              tabIndex={i === focus ? 0 : -1}
              aria-label={`Pixel ${i + 1} of ${panel.position}`}
              aria-disabled={blocked}
              data-pixel={pixel}
              onFocus={() => setFocus(i)}
            />
          ))}
      </div>
    </div>
  );
}

/** The pixel of a panel that an arrow key leads to: the nearest that way, and rather straight on. */
function pixelTowards(xyMm: Float32Array, panel: PanelInfo, from: number, way: Direction): number | null {
  const across = way === "left" || way === "right";
  const sign = way === "right" || way === "down" ? 1 : -1;
  let best: number | null = null;
  let least = Infinity;
  for (let i = panel.first_pixel; i < panel.first_pixel + panel.pixels; i++) {
    const dx = xyMm[2 * i]! - xyMm[2 * from]!;
    const dy = xyMm[2 * i + 1]! - xyMm[2 * from + 1]!;
    const along = sign * (across ? dx : dy);
    const cost = along + 3 * Math.abs(across ? dy : dx);
    if (along > 0.5 && cost < least) [least, best] = [cost, i];
  }
  return best;
}
