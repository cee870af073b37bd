/** The steps of a bench test: what is lit, and what should be seen. */
import { count } from "./format";

export type BenchStep =
  | { kind: "colour"; key: "red" | "green" | "blue" | "white"; see: string }
  | { kind: "dark"; key: "dark"; see: string }
  | { kind: "segment"; key: string; segment: number; see: string };

/** Every bench test lights alike, so that signatures can be compared. */
export const BENCH_LEVEL = 128;
/** So long a light and a sensor take to settle. */
export const SETTLE_MS = 1500;
/** So many settled readings make a mean that is worth keeping. */
export const READINGS = 5;

export function benchSteps(segments: number): BenchStep[] {
  const colours = (["red", "green", "blue"] as const).map((key) => ({ kind: "colour" as const, key, see: `All of the panel is ${key}, evenly, and no pixel is missing.` }));
  const each = Array.from({ length: segments }, (_, at) => ({
    kind: "segment" as const,
    key: `segment ${at + 1}`,
    segment: at + 1,
    see: `Only segment ${at + 1} of ${count(segments)} is lit, all of it, in white.`,
  }));
  return [
    { kind: "dark", key: "dark", see: "All of the panel is dark; no pixel glows." },
    ...colours,
    { kind: "colour", key: "white", see: "All of the panel is white, as bright at its end as at its beginning." },
    ...each,
  ];
}

/** The pattern of a step. A sensor that sees more than the panel needs the rest of the floor to be dark. */
export function benchOrder(step: BenchStep, position: string, alone: boolean, id: string | null) {
  const order = {
    pattern: step.kind === "segment" ? { kind: "segment" as const, position, segment: step.segment } : { kind: "panel" as const, position },
    cover: alone ? ("all" as const) : { panels: [position] },
    level: step.kind === "dark" ? 0 : BENCH_LEVEL,
    colour: step.kind === "colour" ? step.key : ("white" as const),
    lasts_s: 600,
  };
  return id === null ? order : { ...order, ends_with: id };
}

/** What was not right, for the note. */
export const wrongWords = (wrong: readonly string[]): string => (wrong.length === 0 ? "" : `Not right: ${wrong.join(", ")}.`);
