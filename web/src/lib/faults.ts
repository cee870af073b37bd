/** Words and marks for what is dead. */
import type { BookFault } from "../api/book";
import type { EvidenceKind, FoundFault, Health, PanelHealth, Says, SegmentCondition, SegmentHealth, Sureness } from "../api/health";
import type { IconName } from "../components/Icon";
import type { Tone } from "../components/Status";
import { ago, percent, plural } from "./format";
import { parsePosition } from "./geometry";

const CAUSE: Record<string, string> = {
  supply_open: "Open supply joint",
  supply_resistive: "Supply joint with resistance",
  data_open: "Open data joint",
  colour_open: "Open wire of one colour",
  segment_dead: "Dead segment",
  segment_weak: "Weak segment",
  segment_stuck: "Segment that is always lit",
  panel_short: "Panel draws too little",
  loose: "Joint that opens under feet",
  feed_open: "Feed carries nothing",
  node_silent: "Node does not answer",
  node_restarted: "Node began anew",
  port_fault: "Port at fault",
  signal_lost: "No signal",
  sensor_lost: "Sensor can't be believed",
  current_short: "Too little current",
  switch_stuck: "Switch stays pressed",
  switch_dead: "Switch was never pressed",
  switch_chatters: "Switch chatters",
  reported: "Reported by somebody",
};

/** What a cause is called; one that this page does not know yet is read as it is. */
export const causeWord = (cause: string): string => CAUSE[cause] ?? cause.replaceAll("_", " ");

const SURE: Record<Sureness, { word: string; icon: IconName; tone: Tone }> = {
  certain: { word: "certain", icon: "danger", tone: "danger" },
  likely: { word: "likely", icon: "warning", tone: "warning" },
  possible: { word: "possible", icon: "info", tone: "info" },
};

export const sureLook = (sure: Sureness) => SURE[sure];

/** Nothing that can be doubted reads 100 %. */
const share = (chance: number) => (chance > 0.995 && chance < 1 ? "over 99 %" : percent(chance));

/** `likely, 94 %`; where the place is surer than what is broken there, both. */
export function sureWords({ sure, chance, here }: Pick<FoundFault, "sure" | "chance" | "here">): string {
  const words = `${SURE[sure].word}, ${share(chance)}`;
  return sure === "possible" && here >= LIKELY ? `${words}; that it is at this place: ${share(here)}` : words;
}

const LIKELY = 0.9;

/** The open fault of the book that is this one, or may be: one of both was known by its place at most. */
export function bookedAs<Row extends Pick<BookFault, "key" | "open" | "sure">>(fault: FoundFault, book: readonly Row[]): Row | undefined {
  const open = book.filter((row) => row.open);
  const mayBe = (row: Row) => fault.same_place.includes(row.key) && (row.sure === "possible" || fault.sure === "possible");
  return open.find((row) => row.key === fault.key) ?? open.find(mayBe);
}

const KIND: Record<EvidenceKind, string> = {
  node: "Node",
  signal: "Signal",
  sensor: "Sensor",
  survey: "Survey",
  eyes: "Survey by eyes",
  show: "Show",
  switch: "Switch",
  report: "Report",
};

export const evidenceWord = (kind: string): string => KIND[kind as EvidenceKind] ?? kind;

export const CONDITIONS: readonly SegmentCondition[] = ["dead", "weak", "stuck", "unknown", "good"];
const CONDITION: Record<SegmentCondition, string> = { dead: "dark", weak: "weak", stuck: "always lit", unknown: "not known", good: "good" };
export const conditionWord = (condition: SegmentCondition): string => CONDITION[condition];

/** What is known of one segment, in one line. */
export function segmentWords(segment: SegmentHealth): string {
  const { condition, share, colours_out, age_s } = segment;
  if (condition === "unknown") return "not known";
  const draws = share !== null && (condition === "weak" || condition === "stuck") ? `, ${percent(share)} of its current` : "";
  const out = colours_out.length > 0 ? `, without ${colours_out.join(" and ")}` : "";
  return `${conditionWord(condition)}${draws}${out}${age_s === null ? "" : `, ${ago(age_s)}`}`;
}

/** A mark of a panel on the plan: a letter, and what it stands for. */
export interface PanelMark {
  letter: string;
  word: string;
  tone: "danger" | "warning" | "info";
}

const MARKS: readonly { causes: readonly string[]; mark: PanelMark }[] = [
  { causes: ["supply_open", "segment_dead", "feed_open"], mark: { letter: "D", word: "dark", tone: "danger" } },
  { causes: ["data_open"], mark: { letter: "X", word: "data does not arrive", tone: "danger" } },
  { causes: ["node_silent", "port_fault", "signal_lost"], mark: { letter: "N", word: "node, port or signal", tone: "danger" } },
  { causes: ["colour_open"], mark: { letter: "C", word: "a colour is out", tone: "warning" } },
  { causes: ["supply_resistive", "segment_weak", "panel_short", "current_short"], mark: { letter: "W", word: "weak", tone: "warning" } },
  { causes: ["loose"], mark: { letter: "L", word: "loose joint", tone: "warning" } },
  { causes: ["segment_stuck"], mark: { letter: "A", word: "always lit", tone: "warning" } },
  { causes: ["switch_stuck", "switch_dead", "switch_chatters"], mark: { letter: "S", word: "switch", tone: "info" } },
];
const OTHER: PanelMark = { letter: "?", word: "something else", tone: "info" };

export const markOf = (cause: string): PanelMark => MARKS.find(({ causes }) => causes.includes(cause))?.mark ?? OTHER;

/** The gravest mark of every panel that a fault touches. */
export function panelMarks(faults: readonly FoundFault[]): Map<string, PanelMark> {
  const grave = (mark: PanelMark) => {
    const at = MARKS.findIndex((one) => one.mark === mark);
    return at < 0 ? MARKS.length : at;
  };
  const marks = new Map<string, PanelMark>();
  for (const { cause, position, behind } of faults) {
    const mark = markOf(cause);
    for (const at of position === null ? behind : [position, ...behind]) {
      const before = marks.get(at);
      if (!before || grave(mark) < grave(before)) marks.set(at, mark);
    }
  }
  return marks;
}

/** Marks that are on a plan, each once. */
export const marksShown = (marks: ReadonlyMap<string, PanelMark>): PanelMark[] =>
  [...MARKS.map(({ mark }) => mark), OTHER].filter((mark) => [...marks.values()].includes(mark));

/** Segments by what is known of them. */
export function tally(panels: readonly PanelHealth[]): Record<SegmentCondition, number> & { all: number } {
  const sum = { unknown: 0, good: 0, weak: 0, dead: 0, stuck: 0, all: 0 };
  for (const panel of panels) {
    for (const { condition } of panel.segments) {
      sum[condition] += 1;
      sum.all += 1;
    }
  }
  return sum;
}

/** What an empty list of faults is worth: whether anything was looked at, and how long ago. */
export function nothingFound({ panels }: Pick<Health, "panels">): { known: boolean; title: string; text: string } {
  const { all, good, unknown } = tally(panels);
  const ages = panels.flatMap((panel) => panel.segments.flatMap(({ condition, age_s }) => (condition === "good" && age_s !== null ? [age_s] : [])));
  if (good === 0) {
    return {
      known: false,
      title: "Nothing is known to be dead",
      text: "That does not mean that all is well: nothing has told yet whether the segments light. Make a survey to know.",
    };
  }
  const oldest = ages.length > 0 ? `, looked at ${ago(Math.max(...ages))} or later` : "";
  if (unknown > 0) {
    return {
      known: false,
      title: "No fault is known",
      text: `${plural(good, "segment")} of ${all} were found good${oldest}. Of ${unknown === 1 ? "one" : unknown} nothing is known.`,
    };
  }
  return { known: true, title: "No fault is known", text: `All ${plural(all, "segment")} were found good${oldest}.` };
}

/** What lights so that a fault is found by foot. */
export type Spot = { kind: "panel"; position: string } | { kind: "segment"; position: string; segment: number };

/** A start of a pattern that lights one panel or segment, and leaves the rest of the floor alone. */
export function lightOrder(spot: Spot, id: string | null) {
  const order = { pattern: spot, cover: { panels: [spot.position] }, level: 128, colour: "white" as const, lasts_s: 300 };
  return id === null ? order : { ...order, ends_with: id };
}

export const SAYS: readonly { says: Says; word: string; icon: IconName }[] = [
  { says: "dark", word: "Dark", icon: "broken" },
  { says: "flickers", word: "Flickers", icon: "signal" },
  { says: "wrong_colour", word: "Wrong colour", icon: "warning" },
  { says: "fine_now", word: "Fine now", icon: "ok" },
];

/** Row by row, every other one backwards: as one would walk it. What has no place comes last. */
export function walkingOrder(a: string | null, b: string | null): number {
  const one = a === null ? null : parsePosition(a);
  const other = b === null ? null : parsePosition(b);
  if (!one || !other) return one ? -1 : other ? 1 : 0;
  if (one.row !== other.row) return one.row - other.row;
  return one.row % 2 === 0 ? one.column - other.column : other.column - one.column;
}
