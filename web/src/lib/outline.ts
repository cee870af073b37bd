/** How segments run across the floor, as the paths of a drawing. */
import type { Floor, PanelInfo } from "../api/types";

interface Laid {
  floor: Pick<Floor, "panels">;
  xyMm: Float32Array;
}

/** One path a segment, panel by panel, in wiring order. */
export type Outlines = ReadonlyMap<string, readonly string[]>;

const made = new WeakMap<Float32Array, Outlines>();

export function outlines({ floor, xyMm }: Laid): Outlines {
  const known = made.get(xyMm);
  if (known) return known;
  const all = new Map(floor.panels.map((panel) => [panel.position, ofPanel(panel, xyMm)]));
  made.set(xyMm, all);
  return all;
}

function ofPanel({ first_pixel, segments }: Pick<PanelInfo, "first_pixel" | "segments">, xyMm: Float32Array): string[] {
  let first = first_pixel;
  return segments.map((count) => {
    const path = line(xyMm, first, count);
    first += count;
    return path;
  });
}

/** Through the pixels, without those on the straight way between their neighbours. */
function line(xyMm: Float32Array, first: number, count: number): string {
  const at = (i: number): [number, number] => [Math.round(xyMm[2 * i]!), Math.round(xyMm[2 * i + 1]!)];
  let path = "";
  for (let i = first; i < first + count; i++) {
    const [x, y] = at(i);
    if (i > first && i < first + count - 1) {
      const [ax, ay] = at(i - 1);
      const [bx, by] = at(i + 1);
      // Rounded places bend by less than a millimetre.
      if (Math.abs((x - ax) * (by - y) - (y - ay) * (bx - x)) <= Math.hypot(bx - ax, by - ay) && (x - ax) * (bx - x) + (y - ay) * (by - y) > 0) continue;
    }
    path += `${path === "" ? "M" : "L"}${x} ${y}`;
  }
  // A single pixel is a line to itself, which round ends make a dot.
  return count === 1 ? `${path}h0` : path;
}
