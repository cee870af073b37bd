import type { Floor } from "../api/types";
import { columnName } from "../lib/geometry";
import css from "./PlanAxes.module.css";

/** How large the letters and numbers beside a small plan are, in its millimetres. */
function sizeOf(floor: Floor): number {
  return Math.max(floor.width_mm, floor.height_mm) / 26;
}

/** What a plan with axes shows: the floor, with room for them above and at the left. */
export function boxWithAxes(floor: Floor): string {
  const room = sizeOf(floor) * 1.9;
  const edge = sizeOf(floor) * 0.2;
  return `${-room} ${-room} ${floor.width_mm + room + edge} ${floor.height_mm + room + edge}`;
}

/** Column letters and row numbers, for plans whose panels are too small to be named; only as many as have room. */
export function PlanAxes({ floor }: { floor: Floor }) {
  const size = sizeOf(floor);
  const { columns, rows, panel_mm, gap_mm } = floor.grid;
  const [wide, high] = panel_mm;
  const middle = (at: number, length: number) => at * (length + gap_mm) + length / 2;
  const letters = columnName(columns - 1).length;
  return (
    <g class={css.axes} font-size={size} aria-hidden="true">
      {every(columns, wide + gap_mm, size * (0.5 + 0.7 * letters)).map((at) => (
        <text key={`c${at}`} x={middle(at, wide)} y={-size * 0.9} text-anchor="middle">
          {columnName(at)}
        </text>
      ))}
      {every(rows, high + gap_mm, size * 1.1).map((at) => (
        <text key={`r${at}`} x={-size * 0.3} y={middle(at, high)} text-anchor="end">
          {at + 1}
        </text>
      ))}
    </g>
  );
}

/** Indices from 0, so far apart that each has `room`. */
function every(count: number, step_mm: number, room: number): number[] {
  const apart = Math.max(1, Math.ceil(room / step_mm));
  return Array.from({ length: Math.ceil(count / apart) }, (_, i) => i * apart);
}
