/** What the voltages say, as functions of the newest ones. */
import type { Floor, Voltages } from "../api/types";

/** What is known of one panel. */
export interface PanelVolts {
  input_v: number;
  lowest_v: number;
  /** From 1 in wiring order. */
  lowest_pixel: number;
  /** Of its light, 0 to 1; null if it is dark. */
  lost: number | null;
  draw_a: number;
}

/** The voltages of one panel, if they are found. */
export function panelVolts(voltages: Voltages | null, floor: Floor, position: string): PanelVolts | null {
  const at = floor.panels.findIndex((panel) => panel.position === position);
  const { input_v, lowest_v, lowest_pixel, lost_percent, draw_a } = voltages?.panels ?? {};
  const [input, lowest, pixel, draw] = [input_v?.[at], lowest_v?.[at], lowest_pixel?.[at], draw_a?.[at]];
  if (!voltages?.found || input === undefined || lowest === undefined || pixel === undefined || draw === undefined) {
    return null;
  }
  const lost = lost_percent?.[at] ?? null;
  return { input_v: input, lowest_v: lowest, lowest_pixel: pixel, lost: lost === null ? null : lost / 100, draw_a: draw };
}

/** A panel that loses so much of its light starves: less is hardly seen. */
const STARVES = 1;

/** Positions of all panels that starve. */
export function starving(voltages: Voltages | null, floor: Floor): Set<string> {
  if (!voltages?.found) return new Set();
  const lost = voltages.panels.lost_percent;
  return new Set(floor.panels.filter((_, at) => (lost[at] ?? 0) >= STARVES).map((panel) => panel.position));
}

/** What the floor file leaves out, so that nothing can be lost there. */
export function unknownWays(floor: Floor): { feeds: string[]; kinds: string[] } {
  const kinds = new Set(floor.panels.filter((panel) => !panel.strip_known).map((panel) => panel.kind));
  return { feeds: floor.feeds.filter((feed) => !feed.cable_known).map((feed) => feed.name), kinds: [...kinds] };
}
