/** What is wrong with how a universe arrives, in words. */
import type { UniverseState } from "../api/types";
import { plural } from "./format";

export interface Trouble {
  tone: "danger" | "warning" | "info";
  text: string;
}

/** As the daemon's notices count: so many missing frames or changes of source in a minute are news. */
const MISSING_FROM = 10;
const TURNS_FROM = 3;

/** `3 slots later`, `1 slot earlier`. */
export function shiftWords(by: number): string {
  return `${plural(Math.abs(by), "slot")} ${by > 0 ? "later" : "earlier"}`;
}

export function troubles(u: UniverseState): Trouble[] {
  const found: Trouble[] = [];
  const say = (tone: Trouble["tone"], when: boolean, text: () => string) => {
    if (when) found.push({ tone, text: text() });
  };
  const a = u.arrival;
  say("danger", u.mapped && u.lost, () => "lost: it no longer arrives");
  const more = a.cut_off_panels - a.cut_off.length;
  say("warning", a.short_by_slots > 0, () =>
    `ends ${plural(a.short_by_slots, "slot")} too early: ${a.cut_off.join(", ")}${more > 0 ? ` and ${more} more` : ""} get nothing, or not all`,
  );
  say("warning", a.offset_slots !== null, () => `its light lies ${shiftWords(a.offset_slots ?? 0)} than mapped`);
  say("warning", a.contested_slots > 0, () => `two sources fight over ${plural(a.contested_slots, "slot")}`);
  say("warning", a.source_changes >= TURNS_FROM, () => `sources came in each other's place ${a.source_changes} times in a minute`);
  say("warning", u.sources.some((s) => s.ignored), () => "a third source is ignored");
  say("warning", (a.missing_frames ?? 0) >= MISSING_FROM, () => `${plural(a.missing_frames ?? 0, "frame")} missing in the last minute`);
  say("warning", a.overtaken_frames >= MISSING_FROM, () => `${plural(a.overtaken_frames, "frame")} overtaken in the last minute`);
  say("warning", a.odd_length, () => "its length is odd, which Art-Net forbids");
  say("info", a.length_varies, () => "its frames differ in length");
  say("info", u.mapped && a.stray_lit_slots > 0, () => `${plural(a.stray_lit_slots, "slot")} lit that the file does not map`);
  return found;
}

/** Whether someone should look at it. */
export function inTrouble(u: UniverseState): boolean {
  return !u.mapped || u.age_s === null || troubles(u).some((t) => t.tone !== "info");
}
