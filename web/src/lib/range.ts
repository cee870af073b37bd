/** Ranges of the recorded history, and how they are asked for. */
import type { ElementKind, LoadGroup } from "../api/types";

export type Choice = "minutes" | "evening" | "day" | "range";

export const CHOICES: readonly { choice: Choice; word: string }[] = [
  { choice: "minutes", word: "10 minutes" },
  { choice: "evening", word: "Evening (6 h)" },
  { choice: "day", word: "Day" },
  { choice: "range", word: "Any range" },
];

/** Seconds since 1970. */
export interface Range {
  from_s: number;
  to_s: number;
}

const BACK_S: Record<Choice, number> = { minutes: 600, evening: 6 * 3600, day: 24 * 3600, range: 24 * 3600 };

/** What a choice means now; for any range, what its fields begin with. */
export function rangeOf(choice: Choice, now_s: number): Range {
  const to_s = Math.ceil(now_s);
  return { from_s: to_s - BACK_S[choice], to_s };
}

/** What a field of a local time holds: `2026-06-20T21:14`. */
export function toField(at_s: number): string {
  const at = new Date(at_s * 1000);
  const two = (value: number) => String(value).padStart(2, "0");
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}T${two(at.getHours())}:${two(at.getMinutes())}`;
}

/** Seconds since 1970 of such a field; null if it holds no time. */
export function ofField(text: string): number | null {
  const at = new Date(text).getTime();
  return Number.isFinite(at) ? Math.floor(at / 1000) : null;
}

/** What is wrong with two fields, or their range. */
export function readFields(from: string, to: string): Range | string {
  const [from_s, to_s] = [ofField(from), ofField(to)];
  if (from_s === null || to_s === null) return "Enter both times.";
  if (from_s < 0) return "The range must begin after 1970.";
  return from_s < to_s ? { from_s, to_s } : "The range must begin before it ends.";
}

export const KIND: Record<LoadGroup, ElementKind> = { circuits: "circuit", supplies: "supply", feeds: "feed" };

export function rangePath({ from_s, to_s }: Range, element: string): string {
  const query = new URLSearchParams({ from: String(from_s), to: String(to_s), points: "600", element });
  return `/api/v1/history?${query}`;
}

export function csvPath({ from_s, to_s }: Range): string {
  return `/api/v1/history.csv?from=${from_s}&to=${to_s}`;
}
