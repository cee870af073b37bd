/** From taps to answers, and the words of what a walk found. */
import type { PanelInfo, StepAnswer, Walk } from "../api/types";
import { hitTest } from "./geometry";
import { plural } from "./format";

/** What a finger hits surely, in CSS pixels. */
export const FINGER_PX = 44;

/** Of the neighbours this share of a panel is seen on each side when the whole panel is. */
const EDGE = 0.12;

/** CSS pixels a millimetre that show a whole panel and the edges of its neighbours in a box. */
export function wholeScale(panel: Pick<PanelInfo, "width_mm" | "height_mm">, wide_px: number, high_px: number): number {
  const room = 1 + 2 * EDGE;
  return Math.min(wide_px / (room * Math.max(1, panel.width_mm)), high_px / (room * Math.max(1, panel.height_mm)));
}

/** CSS pixels a millimetre with which a finger hits each pixel; never less than with the whole panel in sight. */
export function tapScale(pitch_mm: number, whole: number): number {
  return Math.max(whole, FINGER_PX / Math.max(0.1, pitch_mm));
}

/** CSS pixels a millimetre of a plan whose every panel a finger hits; it fills the room if it can. */
export function planScale(panels: readonly Pick<PanelInfo, "width_mm" | "height_mm">[], width_mm: number, room_px: number, least_px = FINGER_PX): number {
  const least = panels.reduce((side, panel) => Math.min(side, panel.width_mm, panel.height_mm), Infinity);
  const needed = Number.isFinite(least) && least > 0 ? least_px / least : 0;
  return Math.max(needed, room_px / Math.max(1, width_mm));
}

/** The answer that a tap at a point of the floor gives; between panels the nearest one counts. */
export function pointAnswer(panels: readonly PanelInfo[], x_mm: number, y_mm: number): StepAnswer | null {
  const hit = hitTest(panels, x_mm, y_mm);
  const panel = hit >= 0 ? panels[hit] : nearest(panels, x_mm, y_mm);
  if (!panel) return null;
  const within = (mm: number, size: number) => Math.round(Math.min(size, Math.max(0, mm)) * 10) / 10;
  return {
    kind: "point",
    position: panel.position,
    x_mm: within(x_mm - panel.x_mm, panel.width_mm),
    y_mm: within(y_mm - panel.y_mm, panel.height_mm),
  };
}

function nearest(panels: readonly PanelInfo[], x_mm: number, y_mm: number): PanelInfo | undefined {
  const far = (p: PanelInfo) =>
    Math.hypot(Math.max(p.x_mm - x_mm, 0, x_mm - p.x_mm - p.width_mm), Math.max(p.y_mm - y_mm, 0, y_mm - p.y_mm - p.height_mm));
  return panels.reduce<PanelInfo | undefined>((best, p) => (best && far(best) <= far(p) ? best : p), undefined);
}

/** What was tapped, in words, for while it is on its way. */
export function answerWords(answer: StepAnswer): string {
  switch (answer.kind) {
    case "drawing": return `drawing ${answer.drawing + 1}`;
    case "panel": return `most of the light in ${answer.position}, and not as drawn`;
    case "nothing": return "nothing lights";
    case "point": return `a pixel of ${answer.position}`;
    case "colour": return answer.colour;
  }
}

const FOUND: Record<string, string> = {
  swapped: "Swapped",
  turned: "Turned",
  mirrored: "Mirrored",
  reversed: "Wired from the other end",
  shifted: "Shifted run",
  colours: "Colour order",
  dark: "Dark",
  unexplained: "Look again",
};

/** The kind of a difference; of one that this page does not know, the daemon's own word. */
export function foundWord(what: string): string {
  return FOUND[what] ?? what.replaceAll("_", " ").replace(/^./, (letter) => letter.toUpperCase());
}

export function progressWords({ progress }: Pick<Walk, "progress">): string {
  return `${progress.done} of ${plural(progress.panels, "panel")} done, ${plural(progress.taps, "tap")}`;
}

export interface DiffLine {
  kind: "added" | "removed" | "same" | "place";
  text: string;
}

/** The lines of a unified diff. Its two heading lines are left out; a hunk's says where it begins. */
export function diffLines(diff: string): DiffLine[] {
  const lines = diff.replace(/\n$/, "").split("\n");
  // Only before the first hunk are `---` and `+++` headings: a removed line may begin so, too.
  const first = lines.findIndex((line) => line.startsWith("@@"));
  if (first < 0) return [];
  return lines.slice(first).map((line): DiffLine => {
    const hunk = /^@@ -(\d+)/.exec(line);
    if (hunk) return { kind: "place", text: `From line ${hunk[1]}` };
    if (line.startsWith("\\")) return { kind: "place", text: line.slice(2) };
    const kind = line.startsWith("+") ? "added" : line.startsWith("-") ? "removed" : "same";
    return { kind, text: line.slice(1) };
  });
}
