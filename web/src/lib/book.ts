/** Words of the book, serials that were scanned, and addresses that a label leads to. */
import type { BookFault, FaultStage, Signature, Stepped } from "../api/book";
import type { SensorState } from "../api/types";
import type { IconName } from "../components/Icon";
import type { Tone } from "../components/Status";
import { amps } from "./format";
import { argumentOf, pageOf } from "./route";

const STAGE: Record<FaultStage, { word: string; icon: IconName; tone: Tone }> = {
  found: { word: "found", icon: "search", tone: "danger" },
  being_repaired: { word: "being repaired", icon: "wait", tone: "warning" },
  repaired: { word: "repaired, not yet proved", icon: "info", tone: "info" },
  proved: { word: "proved good by a survey", icon: "ok", tone: "good" },
  dismissed: { word: "dismissed", icon: "cross", tone: "quiet" },
};

export const stageLook = (stage: FaultStage) => STAGE[stage] ?? { word: String(stage).replaceAll("_", " "), icon: "info" as const, tone: "quiet" as const };

/** Where a fault can go from where it stands; the first is what comes next. */
export function nextSteps(stage: FaultStage): { state: Stepped; word: string }[] {
  const begin = { state: "being_repaired", word: "Begin the repair" } as const;
  const done = { state: "repaired", word: "It is repaired" } as const;
  const dismiss = { state: "dismissed", word: "No fault after all" } as const;
  const again = { state: "found", word: "Open it again" } as const;
  switch (stage) {
    case "found": return [begin, done, dismiss];
    case "being_repaired": return [done, again];
    case "repaired": return [{ ...again, word: "Not repaired after all" }];
    default: return [again];
  }
}

/** The newest first. */
export const closedFirst = (faults: readonly BookFault[]): BookFault[] =>
  faults.filter((fault) => !fault.open).sort((a, b) => lastAt(b).localeCompare(lastAt(a)));

export const lastAt = (fault: BookFault): string => fault.steps[fault.steps.length - 1]?.at ?? fault.found_at;

/** `27 Nov, 14:05`; the year only where it is another one than now. */
export function moment(at: string, now = new Date()): string {
  const date = new Date(at);
  if (Number.isNaN(date.getTime())) return at;
  const day = date.toLocaleDateString("en-GB", { day: "numeric", month: "short", ...(date.getFullYear() === now.getFullYear() ? {} : { year: "numeric" }) });
  return `${day}, ${date.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" })}`;
}

/** The serial in what was scanned: the address of a panel's page, or the serial itself. */
export function serialIn(text: string): string {
  const said = text.trim();
  const hash = said.indexOf("#/");
  if (hash >= 0 && pageOf(said.slice(hash)) === "panel") return argumentOf(said.slice(hash));
  return said;
}

/** Whether an address means the very machine that it is opened on, so that no phone gets anywhere with it. */
export function onlyHere(address: string): boolean {
  try {
    const { hostname } = new URL(address);
    return hostname === "localhost" || hostname.endsWith(".localhost") || hostname === "[::1]" || /^127\./.test(hostname);
  } catch {
    return false;
  }
}

/** The address that labels lead to, without a path; null if it is none. */
export function labelAddress(text: string): string | null {
  try {
    const url = new URL(text.trim());
    return url.protocol === "http:" || url.protocol === "https:" ? url.origin : null;
  } catch {
    return null;
  }
}

/** A sensor of current that can be believed and sees a panel: of all, the one that sees the least else. */
export function sensorOf(sensors: readonly SensorState[], panel: { position: string; feed: string; supply: string; circuit: string }): SensorState | null {
  const places = [`panel ${panel.position}`, `feed ${panel.feed}`, `supply ${panel.supply}`];
  for (const place of places) {
    const found = sensors.find((sensor) => sensor.place === place && sensor.quantity === "current" && !UNHEARD.has(sensor.state));
    if (found) return found;
  }
  return null;
}
const UNHEARD = new Set(["waiting", "silent", "frozen", "absurd"]);

/** Readings that count: those that came once the light had settled. */
export function settledMean(readings: readonly { at_ms: number; value: number }[], lit_ms: number, settle_ms: number): number | null {
  const good = readings.filter((reading) => reading.at_ms - lit_ms >= settle_ms);
  if (good.length === 0) return null;
  return good.reduce((sum, reading) => sum + reading.value, 0) / good.length;
}

const SIGNED = ["dark", "red", "green", "blue", "white"] as const;
/** `dark 0.04 A, red 0.51 A`, in that order; empty if there is none. */
export function signatureWords(signature: Signature | null): string {
  if (!signature) return "";
  const known = SIGNED.filter((name) => typeof signature[`${name}_a`] === "number");
  return known.map((name) => `${name} ${amps(signature[`${name}_a`])}`).join(", ");
}

/** Panels whose serial or position has the word in it, position or not. */
export function searched<T extends { serial: string; position: string | null }>(rows: readonly T[], word: string): T[] {
  const wanted = word.trim().toLowerCase();
  return rows.filter(({ serial, position }) => serial.toLowerCase().includes(wanted) || (position ?? "").toLowerCase() === wanted);
}

/** Serials with commas or blanks between them, each once. */
export const serialsIn = (text: string): string[] => [...new Set(text.split(/[\s,;]+/).filter(Boolean))];
