/** What the floor may look like: where to look, how to draw it, and the words for it. */
import type { Drawing, DrawnPixel, LightColour, PanelInfo } from "../api/types";
import { plural } from "./format";

type Rect = Pick<PanelInfo, "x_mm" | "y_mm" | "width_mm" | "height_mm">;
type Placed = Rect & Pick<PanelInfo, "position">;

/** Part of the floor, in millimetres. */
export interface Frame {
  x: number;
  y: number;
  width: number;
  height: number;
}

/** Of the neighbours so much is seen that one knows where one is. */
const AROUND = 0.25;
const MOST_TOLD = 3;

/** The panels that light, the one with the most light first. */
export function litPositions(drawing: Drawing): string[] {
  return [...grouped(drawing.lights, (light) => light.position)].sort(([, a], [, b]) => b.length - a.length).map(([position]) => position);
}

/** A square around what lights, with part of the neighbours. */
export function frameOf(drawing: Drawing, floor: { width_mm: number; height_mm: number; panels: readonly Placed[] }): Frame {
  const lit = new Set(litPositions(drawing));
  const { x, y, width, height } = squareAround(floor.panels.filter((panel) => lit.has(panel.position)), AROUND);
  // Beyond the floor's edge there is nothing to see.
  const held = (from: number, size: number, room: number) => (size <= room ? Math.min(room - size, Math.max(0, from)) : (room - size) / 2);
  return { x: held(x, width, floor.width_mm), y: held(y, height, floor.height_mm), width, height };
}

function squareAround(panels: readonly Rect[], around: number): Frame {
  if (panels.length === 0) return { x: 0, y: 0, width: 1, height: 1 };
  const margin = around * Math.min(...panels.map((p) => Math.min(p.width_mm, p.height_mm)));
  const left = Math.min(...panels.map((p) => p.x_mm)) - margin;
  const top = Math.min(...panels.map((p) => p.y_mm)) - margin;
  const width = Math.max(...panels.map((p) => p.x_mm + p.width_mm)) + margin - left;
  const height = Math.max(...panels.map((p) => p.y_mm + p.height_mm)) + margin - top;
  const side = Math.max(width, height);
  return { x: left - (side - width) / 2, y: top - (side - height) / 2, width: side, height: side };
}

/** One panel and about half of its neighbours. */
export function surroundings(panel: Rect): Frame {
  const x = panel.width_mm / 2;
  const y = panel.height_mm / 2;
  return { x: panel.x_mm - x, y: panel.y_mm - y, width: 2 * panel.width_mm, height: 2 * panel.height_mm };
}

export function inFrame<P extends Rect>(panels: readonly P[], frame: Frame): P[] {
  return panels.filter(
    (p) => p.x_mm < frame.x + frame.width && p.x_mm + p.width_mm > frame.x && p.y_mm < frame.y + frame.height && p.y_mm + p.height_mm > frame.y,
  );
}

/** Where a panel's name stands: amid what is seen of it, and as large as that allows; null if too little is. */
export function nameplate(panel: Rect, frame: Frame): { x: number; y: number; size: number } | null {
  const left = Math.max(panel.x_mm, frame.x);
  const top = Math.max(panel.y_mm, frame.y);
  const width = Math.min(panel.x_mm + panel.width_mm, frame.x + frame.width) - left;
  const height = Math.min(panel.y_mm + panel.height_mm, frame.y + frame.height) - top;
  const side = Math.min(panel.width_mm, panel.height_mm);
  const size = Math.min(0.2 * side, 0.45 * width, 0.7 * height);
  return size < 0.1 * side ? null : { x: left + width / 2, y: top + height / 2, size };
}

/** An SVG path of dots: with a round line cap each is a disc. */
export function dots(points: Iterable<readonly [number, number]>): string {
  let path = "";
  for (const [x, y] of points) path += `M${round(x)} ${round(y)}h0`;
  return path;
}

/** An SVG path of panels. */
export function plates(panels: readonly Rect[], gap_mm: number): string {
  return panels
    .map((p) => `M${round(p.x_mm + gap_mm)} ${round(p.y_mm + gap_mm)}h${round(p.width_mm - 2 * gap_mm)}v${round(p.height_mm - 2 * gap_mm)}h${round(2 * gap_mm - p.width_mm)}z`)
    .join("");
}

const round = (mm: number) => Math.round(mm * 10) / 10;

export function byColour(lights: readonly DrawnPixel[]): Map<LightColour, DrawnPixel[]> {
  return grouped(lights, (light) => light.colour);
}

function grouped<K, V>(all: readonly V[], key: (one: V) => K): Map<K, V[]> {
  const groups = new Map<K, V[]>();
  for (const one of all) {
    const group = groups.get(key(one));
    if (group) group.push(one);
    else groups.set(key(one), [one]);
  }
  return groups;
}

/** `C4: 1 red upper left, 11 blue at the top, 32 green`, so that no drawing is told by colour alone. */
export function sightWords(drawing: Drawing, panels: readonly Placed[]): string {
  const places = new Map(panels.map((panel) => [panel.position, panel]));
  const byPosition = grouped(drawing.lights, (light) => light.position);
  const lit = litPositions(drawing);
  const told = lit.slice(0, MOST_TOLD).map((position) => {
    const colours = [...byColour(byPosition.get(position) ?? [])].sort(([, a], [, b]) => a.length - b.length);
    const words = colours.map(([colour, lights], i) => {
      const panel = places.get(position);
      const rest = i === colours.length - 1 && colours.length > 1;
      return `${lights.length} ${colour}${panel && !rest ? ` ${whereIn(panel, lights)}` : ""}`;
    });
    return `${position}: ${words.join(", ")}`;
  });
  const more = lit.length - told.length;
  return told.join("; ") + (more > 0 ? `; and ${plural(more, "other panel")}` : "");
}

/** Where in a panel the middle of some pixels lies. */
function whereIn(panel: Rect, lights: readonly DrawnPixel[]): string {
  const mean = (of: (light: DrawnPixel) => number) => lights.reduce((sum, light) => sum + of(light), 0) / lights.length;
  const third = (share: number) => (share < 1 / 3 ? 0 : share > 2 / 3 ? 2 : 1);
  const column = third((mean((l) => l.x_mm) - panel.x_mm) / panel.width_mm);
  const row = third((mean((l) => l.y_mm) - panel.y_mm) / panel.height_mm);
  return WHERE[row]![column]!;
}

const WHERE = [
  ["upper left", "at the top", "upper right"],
  ["on the left", "all over", "on the right"],
  ["lower left", "at the bottom", "lower right"],
];
