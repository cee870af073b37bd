import { useLayoutEffect, useRef, useState } from "preact/hooks";
import type { PanelInfo, StepAnswer } from "../../api/types";
import { Icon } from "../../components/Icon";
import { type Direction, neighbour, pitchMm } from "../../lib/geometry";
import { type Frame, surroundings } from "../../lib/sight";
import { FINGER_PX, pointAnswer, tapScale, wholeScale } from "../../lib/walk";
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

/** One panel and the edges of its neighbours; where its pixels are too small for a finger, a first tap brings them nearer. */
export function PixelTap({ layout, near, chosen, blocked, onPick }: Props) {
  const { floor } = layout;
  const [at, setAt] = useState(near ?? floor.panels[0]?.position ?? "");
  const panel = floor.panels.find((p) => p.position === at) ?? floor.panels[0];
  if (!panel) return null;
  return (
    <div class={css.parts}>
      <Mover layout={layout} at={panel.position} go={setAt} />
      <Stage key={panel.position} layout={layout} panel={panel} chosen={chosen} blocked={blocked} onPick={onPick} />
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
        <select aria-label="Panel" value={at} onChange={(event) => go(event.currentTarget.value)}>
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

interface Room {
  wide: number;
  high: number;
}

function Stage({ layout, panel, chosen, blocked, onPick }: Omit<Props, "near"> & { panel: PanelInfo }) {
  const { floor, xyMm } = layout;
  const box = useRef<HTMLDivElement>(null);
  const [room, setRoom] = useState<Room | null>(null);
  const [close, setClose] = useState<{ x: number; y: number } | null>(null);
  const frame = surroundings(panel);
  const pitch = Math.min(pitchMm(xyMm, [panel]), panel.width_mm, panel.height_mm);
  const whole = room ? wholeScale(panel, room.wide, room.high) : 1;
  const near = tapScale(pitch, whole);
  /** Already large enough. */
  const direct = near <= whole;
  const scale = close ? near : whole;

  useLayoutEffect(() => {
    const measure = () => box.current && setRoom({ wide: box.current.clientWidth, high: box.current.clientHeight });
    measure();
    window.addEventListener("resize", measure);
    return () => window.removeEventListener("resize", measure);
  }, []);
  useLayoutEffect(() => {
    if (!box.current || !room) return;
    const middle = close ?? { x: panel.x_mm + panel.width_mm / 2, y: panel.y_mm + panel.height_mm / 2 };
    box.current.scrollLeft = (middle.x - frame.x) * scale - box.current.clientWidth / 2;
    box.current.scrollTop = (middle.y - frame.y) * scale - box.current.clientHeight / 2;
  }, [room, close]);

  const pick = (x: number, y: number) => {
    const answer = pointAnswer(floor.panels, x, y);
    if (answer) onPick(answer);
  };
  const tap = (event: MouseEvent) => {
    if (blocked) return;
    const pixel = (event.target as Element).closest<HTMLElement>("[data-pixel]")?.dataset["pixel"];
    // A key presses one pixel's button and can't miss it.
    if (event.detail === 0 && pixel !== undefined) return pick(xyMm[2 * Number(pixel)]!, xyMm[2 * Number(pixel) + 1]!);
    const { left, top } = (event.currentTarget as HTMLElement).getBoundingClientRect();
    const x = frame.x + (event.clientX - left) / scale;
    const y = frame.y + (event.clientY - top) / scale;
    if (close || direct) pick(x, y);
    else setClose({ x, y });
  };
  const mark = chosen?.kind === "point" ? floor.panels.find((p) => p.position === chosen.position) : undefined;
  return (
    <>
      <p class={css.hint}>
        {direct
          ? "Tap the pixel that lights."
          : close
            ? "Now tap the pixel itself. The picture can be pushed about."
            : "Tap near the pixel that lights: the picture comes nearer. If it is in a neighbour, go there with the arrows."}
      </p>
      <div ref={box} class={`${css.box} ${css.close}`} data-scrolls data-pixels={close || direct ? "near" : "whole"}>
        <div
          class={css.sheet}
          role="group"
          aria-label={`Pixels of panel ${panel.position}`}
          style={{ width: `${frame.width * scale}px`, height: `${frame.height * scale}px` }}
          onClick={tap}
        >
          <svg class={css.ground} viewBox={`${frame.x} ${frame.y} ${frame.width} ${frame.height}`} aria-hidden="true">
            <Ground layout={layout} frame={frame} lit={new Set([panel.position])} pitch={pitch * 2} />
            {mark && chosen?.kind === "point" && (
              <circle class={css.mark} cx={mark.x_mm + chosen.x_mm} cy={mark.y_mm + chosen.y_mm} r={pitch * 0.42} />
            )}
          </svg>
          {room && <Pixels layout={layout} panel={panel} frame={frame} scale={scale} size={Math.max(FINGER_PX, Math.min(60, pitch * scale))} blocked={blocked} />}
        </div>
      </div>
      {close && (
        <button type="button" class={buttons.solid} onClick={() => setClose(null)}>
          <Icon name="fit" size={18} />
          Show the whole panel
        </button>
      )}
    </>
  );
}

interface PixelsProps {
  layout: Layout;
  panel: PanelInfo;
  frame: Frame;
  scale: number;
  size: number;
  blocked: boolean;
}

/** The pixels as buttons for keys and screen readers; fingers and mice go by the place that they hit. */
function Pixels({ layout: { xyMm }, panel, frame, scale, size, blocked }: PixelsProps) {
  const [focus, setFocus] = useState(0);
  const move = (event: KeyboardEvent) => {
    const way = WAYS[event.key];
    if (!way) return;
    event.preventDefault();
    const next = pixelTowards(xyMm, panel, panel.first_pixel + focus, way);
    if (next === null) return;
    setFocus(next - panel.first_pixel);
    (event.currentTarget as HTMLElement).querySelector<HTMLElement>(`[data-pixel="${next}"]`)?.focus();
  };
  return (
    <div onKeyDown={move}>
      {Array.from({ length: panel.pixels }, (_, i) => panel.first_pixel + i).map((pixel, i) => (
        <button
          key={pixel}
          type="button"
          class={css.pixel}
          style={{
            left: `${(xyMm[2 * pixel]! - frame.x) * scale - size / 2}px`,
            top: `${(xyMm[2 * pixel + 1]! - frame.y) * scale - size / 2}px`,
            width: `${size}px`,
            height: `${size}px`,
          }}
          tabIndex={i === focus ? 0 : -1}
          aria-label={`Pixel ${i + 1} of ${panel.position}`}
          aria-disabled={blocked}
          data-pixel={pixel}
          onFocus={() => setFocus(i)}
        />
      ))}
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
