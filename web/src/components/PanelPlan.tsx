import { useLayoutEffect, useMemo, useRef, useState } from "preact/hooks";
import { type Direction, neighbour } from "../lib/geometry";
import { outlines } from "../lib/outline";
import { planScale } from "../lib/walk";
import type { Layout } from "../store";
import css from "./PanelPlan.module.css";

/** How a segment is drawn; each look has a stroke of its own, so that none is told by colour alone. */
export type SegmentLook = "good" | "weak" | "dead" | "stuck" | "unknown" | "lit" | "unlit" | "tapped";
const LOOKS: readonly SegmentLook[] = ["unlit", "unknown", "good", "weak", "stuck", "dead", "lit", "tapped"];

/** Width and dashes in parts of a panel's side. */
export const STROKE: Record<SegmentLook, { wide: number; dashes?: number[] }> = {
  unlit: { wide: 0.05 },
  unknown: { wide: 0.05, dashes: [0, 0.12] },
  good: { wide: 0.05 },
  weak: { wide: 0.07, dashes: [0.16, 0.14] },
  stuck: { wide: 0.1, dashes: [0, 0.15] },
  dead: { wide: 0.12, dashes: [0.035, 0.085] },
  lit: { wide: 0.12 },
  tapped: { wide: 0.12, dashes: [0.035, 0.085] },
};

export interface PlanMark {
  letter: string;
  /** Read aloud with the panel's position. */
  word: string;
  tone: "danger" | "warning" | "info" | "good";
}

interface Props {
  layout: Layout;
  label: string;
  /** Index of the segment from 0; null: it is not drawn. */
  look?(position: string, segment: number): SegmentLook | null;
  mark?(position: string): PlanMark | null;
  chosen: ReadonlySet<string>;
  onPick?(position: string): void;
  blocked?: boolean;
  /** Panels are at least so many pixels wide, where their segments matter. */
  leastPx?: number;
  /** Panels that can't be picked; they are still drawn. */
  off?(position: string): boolean;
}

/** Share of the window that a plan takes, as its style says. */
const SEEN = 0.66;

const WAYS: Record<string, Direction> = { ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down" };

/** The whole floor, every panel large enough for a finger, its segments as they run. Arrow keys go from panel to panel. */
export function PanelPlan({ layout, label, look, mark, chosen, onPick, blocked = false, leastPx, off }: Props) {
  const { panels, width_mm, height_mm } = layout.floor;
  const box = useRef<HTMLDivElement>(null);
  const [room, setRoom] = useState(0);
  /** So high a plan may be before it is pushed about. */
  const [high, setHigh] = useState(0);
  const [at, setAt] = useState([...chosen][0] ?? panels[0]?.position ?? "");
  const scale = planScale(panels, width_mm, Math.min(room, (high * width_mm) / Math.max(1, height_mm)), leastPx);
  const here = panels.some((panel) => panel.position === at) ? at : panels[0]?.position;
  const lines = outlines(layout);

  useLayoutEffect(() => {
    const measure = () => {
      setRoom(box.current?.clientWidth ?? 0);
      setHigh(window.innerHeight * SEEN);
    };
    measure();
    window.addEventListener("resize", measure);
    return () => window.removeEventListener("resize", measure);
  }, []);

  // One path a look, however many segments there are.
  const paths = useMemo(() => {
    const all = new Map<SegmentLook, string>();
    if (!look) return all;
    for (const [position, own] of lines) {
      own.forEach((line, segment) => {
        const how = look(position, segment);
        if (how) all.set(how, (all.get(how) ?? "") + line);
      });
    }
    return all;
  }, [lines, look]);

  const move = (event: KeyboardEvent) => {
    const way = WAYS[event.key];
    if (!way || here === undefined) return;
    event.preventDefault();
    const next = neighbour(panels.map((p) => p.position), here, way);
    if (next === null) return;
    setAt(next);
    box.current?.querySelector<HTMLElement>(`[data-position="${next}"]`)?.focus();
  };
  const side = panels.reduce((least, panel) => Math.min(least, panel.width_mm, panel.height_mm), Infinity);
  return (
    <>
      {room > 0 && width_mm * scale > room + 1 && <p class={css.hint}>The plan is wider than the screen: push it about with your finger.</p>}
      <div ref={box} class={css.box} data-scrolls>
        <div class={css.sheet} role="group" aria-label={label} style={{ width: `${width_mm * scale}px`, height: `${height_mm * scale}px` }} onKeyDown={move}>
          <svg class={css.ground} viewBox={`0 0 ${width_mm} ${height_mm}`} aria-hidden="true">
            {LOOKS.filter((how) => paths.has(how)).map((how) => (
              <path
                key={how}
                class={css[how]}
                d={paths.get(how)}
                stroke-width={STROKE[how].wide * side}
                stroke-dasharray={STROKE[how].dashes?.map((part) => part * side).join(" ")}
                data-look={how}
              />
            ))}
          </svg>
          {room > 0 &&
            panels.map((panel) => {
              const { position } = panel;
              const said = mark?.(position) ?? null;
              const dull = blocked || (off?.(position) ?? false);
              const small = Math.min(panel.width_mm, panel.height_mm) * scale < 60;
              return (
                <button
                  key={position}
                  type="button"
                  class={`${css.panel} ${small ? css.small : ""}`}
                  style={{ left: `${panel.x_mm * scale}px`, top: `${panel.y_mm * scale}px`, width: `${panel.width_mm * scale}px`, height: `${panel.height_mm * scale}px` }}
                  tabIndex={position === here ? 0 : -1}
                  aria-pressed={onPick ? chosen.has(position) : undefined}
                  aria-disabled={dull}
                  data-position={position}
                  data-chosen={chosen.has(position)}
                  data-off={off?.(position) ?? false}
                  onFocus={() => setAt(position)}
                  onClick={() => !dull && onPick?.(position)}
                >
                  <span class={css.name}>{position}</span>
                  {said && (
                    <>
                      <span class={css.mark} data-tone={said.tone} data-mark={said.letter}>
                        {said.letter}
                      </span>
                      <span class={css.word}> {said.word}</span>
                    </>
                  )}
                </button>
              );
            })}
        </div>
      </div>
    </>
  );
}
