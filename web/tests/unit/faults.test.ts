import assert from "node:assert/strict";
import { test } from "node:test";
import type { FoundFault, SegmentHealth } from "../../src/api/health.ts";
import { bookedAs, causeWord, lightOrder, markOf, nothingFound, panelMarks, segmentWords, sureWords, tally, walkingOrder } from "../../src/lib/faults.ts";

const segment = (more: Partial<SegmentHealth> = {}): SegmentHealth => ({ condition: "good", share: 1, doubt: 0.001, colours_out: [], age_s: 12, ...more });
const UNKNOWN = segment({ condition: "unknown", share: null, doubt: 1, age_s: null });
const fault = (more: Partial<FoundFault>): FoundFault => ({
  key: "k", cause: "segment_dead", place: "C4, segment 1", effect: "", position: "C4", serial: null, segments: [1], behind: [], sure: "certain", chance: 0.9999, here: 0.9999,
  alternatives: [], same_place: [], evidence: [], since_s: 0, ...more,
});
const panel = (position: string, segments: SegmentHealth[]) => ({ position, segments, faults: [], pressed: [] });

test("what can be doubted never reads 100 %", () => {
  assert.equal(sureWords({ sure: "certain", chance: 0.9999, here: 0.9999 }), "certain, over 99 %");
  assert.equal(sureWords({ sure: "likely", chance: 0.944, here: 0.99 }), "likely, 94 %");
  assert.equal(sureWords({ sure: "certain", chance: 1, here: 1 }), "certain, 100 %");
});

test("where the place is surer than what is broken there, both are said", () => {
  assert.equal(sureWords({ sure: "possible", chance: 0.66, here: 0.999 }), "possible, 66 %; that it is at this place: over 99 %");
  assert.equal(sureWords({ sure: "possible", chance: 0.66, here: 0.89 }), "possible, 66 %");
});

test("what was written while only its place was known is the same fault when it is known better", () => {
  const row = (key: string, sure: string, open = true) => ({ key, sure, open });
  const data = fault({ key: "C4/2-3/data_open", same_place: ["C4/2-3/supply_open"] });
  const unclear = row("C4/2-3/supply_open", "possible");
  assert.equal(bookedAs(data, [row("C4/2-3/data_open", "certain", false), unclear]), unclear);
  assert.equal(bookedAs(data, [row("C4/2-3/supply_open", "certain")]), undefined);
  assert.equal(bookedAs(data, [row("C4/2-3/supply_open", "possible", false), row("C4/3-4/supply_open", "possible")]), undefined);
});

test("a cause that the page does not know is read as it is", () => {
  assert.equal(causeWord("supply_open"), "Open supply joint");
  assert.equal(causeWord("moon_too_full"), "moon too full");
  assert.equal(markOf("moon_too_full").letter, "?");
});

test("a panel is marked by the gravest of its faults, and so is what lies behind", () => {
  const marks = panelMarks([fault({ cause: "switch_stuck" }), fault({ cause: "data_open", behind: ["D4", "E4"] }), fault({ cause: "segment_weak", position: "D4" }), fault({ cause: "node_silent", position: null, behind: ["A1"] })]);
  assert.deepEqual([...marks].map(([position, mark]) => position + mark.letter), ["C4X", "D4X", "E4X", "A1N"]);
  // The order in which they are found does not matter.
  const reverse = panelMarks([fault({ cause: "segment_weak", position: "D4" }), fault({ cause: "data_open", behind: ["D4"] })]);
  assert.equal(reverse.get("D4")?.letter, "X");
});

test("every mark has a letter of its own", () => {
  const causes = ["supply_open", "data_open", "node_silent", "colour_open", "segment_weak", "loose", "segment_stuck", "switch_dead", "reported"];
  assert.equal(new Set(causes.map((cause) => markOf(cause).letter)).size, causes.length);
});

test("a segment is told in one line", () => {
  assert.equal(segmentWords(segment()), "good, 12 s ago");
  assert.equal(segmentWords(UNKNOWN), "not known");
  assert.equal(segmentWords(segment({ condition: "weak", share: 0.54, colours_out: ["red"], age_s: null })), "weak, 54 % of its current, without red");
  assert.equal(segmentWords(segment({ condition: "dead", share: 0 })), "dark, 12 s ago");
});

test("nothing found is only good news where all was looked at", () => {
  assert.match(nothingFound({ panels: [panel("A1", [UNKNOWN])] }).text, /does not mean that all is well/);
  const half = nothingFound({ panels: [panel("A1", [segment(), UNKNOWN])] });
  assert.deepEqual([half.known, half.text], [false, "1 segment of 2 were found good, looked at 12 s ago or later. Of one nothing is known."]);
  const all = nothingFound({ panels: [panel("A1", [segment({ age_s: 720 }), segment()])] });
  assert.deepEqual([all.known, all.text], [true, "All 2 segments were found good, looked at 12 min ago or later."]);
  assert.deepEqual(tally([panel("A1", [segment(), UNKNOWN, segment({ condition: "dead" })])]), { unknown: 1, good: 1, weak: 0, dead: 1, stuck: 0, all: 3 });
});

test("light goes to one panel and leaves the rest alone, and ends with the page", () => {
  assert.deepEqual(lightOrder({ kind: "segment", position: "C4", segment: 3 }, "id-1"), {
    pattern: { kind: "segment", position: "C4", segment: 3 }, cover: { panels: ["C4"] }, level: 128, colour: "white", lasts_s: 300, ends_with: "id-1",
  });
  assert.equal("ends_with" in lightOrder({ kind: "panel", position: "C4" }, null), false);
});

test("one walks row by row, every other one backwards, and what has no place comes last", () => {
  const places = [null, "A2", "B1", "C2", "A1", "AA1", "A3"];
  assert.deepEqual([...places].sort(walkingOrder), ["A1", "B1", "AA1", "C2", "A2", "A3", null]);
});
