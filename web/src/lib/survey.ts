/** Words and sums for surveys. */
import type { FoundItem, SegmentAt, SurveyQuestion, SurveyState } from "../api/survey";
import { duration, plural } from "./format";

/** How far it is, 0 to 1. */
export function share({ by, decided, items, question }: Pick<SurveyState, "by" | "decided" | "items" | "question">): number {
  if (by === "eyes" && question) return question.total > 0 ? (question.number - 1) / question.total : 0;
  return items > 0 ? decided / items : 0;
}

/** `112 of 256 segments decided, about 12 s left`. */
export function progressWords({ decided, items, left_s, pattern }: Pick<SurveyState, "decided" | "items" | "left_s" | "pattern">): string {
  const left = left_s === null ? "how long it takes can't be told yet" : `about ${duration(Math.max(1, Math.ceil(left_s)))} left`;
  return `${decided} of ${plural(items, "item")} decided, ${left}; light ${pattern}`;
}

/** Segments that should be lit, panel by panel, in the order of the question. */
export function litByPanel({ lit }: Pick<SurveyQuestion, "lit">): Map<string, number[]> {
  const panels = new Map<string, number[]>();
  for (const { position, segment } of lit) panels.set(position, [...(panels.get(position) ?? []), segment]);
  return panels;
}

export const sameSegment = (a: SegmentAt, b: SegmentAt): boolean => a.position === b.position && a.segment === b.segment;

/** The list with the segment in it if it wasn't, and without it if it was. */
export function toggled(list: readonly SegmentAt[], one: SegmentAt): SegmentAt[] {
  const rest = list.filter((other) => !sameSegment(other, one));
  return rest.length < list.length ? rest : [...rest, { position: one.position, segment: one.segment }];
}

/** `C4: segments 2 and 3; red of segment 5`. */
export function foundWords(items: readonly FoundItem[]): { position: string; text: string }[] {
  const panels = new Map<string, FoundItem[]>();
  for (const item of items) panels.set(item.position, [...(panels.get(item.position) ?? []), item]);
  return [...panels].map(([position, own]) => {
    const whole = own.filter((item) => item.colour === null).map((item) => String(item.segment));
    const colours = own.filter((item) => item.colour !== null).map((item) => `${item.colour} of segment ${item.segment}`);
    const segments = whole.length > 0 ? [`${whole.length === 1 ? "segment" : "segments"} ${listed(whole)}`] : [];
    return { position, text: [...segments, ...colours].join("; ") };
  });
}

function listed(words: readonly string[]): string {
  return words.length < 2 ? words.join("") : `${words.slice(0, -1).join(", ")} and ${words[words.length - 1]}`;
}

const ENDED = { decided: "Survey done", time_is_up: "Survey ended: its time was up", stopped: "Survey stopped", refused: "Survey not possible" } as const;
export const endedWord = (ended: string): string => ENDED[ended as keyof typeof ENDED] ?? "Survey ended";
