import assert from "node:assert/strict";
import { test } from "node:test";
import type { Floor, PatternState } from "../../src/api/types";
import { barrier, columnsOf, countdown, firstChoice, fitted, KINDS, litPanels, missing, orderOf, positionsIn, rowsOf, runName, walkOrder } from "../../src/lib/pattern";

/** As much of a floor as is looked at: 28 columns of one panel, and two more under the first. */
const letters = [..."ABCDEFGHIJKLMNOPQRSTUVWXYZ", "AA", "AB"];
const panels = [...letters.map((letter) => `${letter}1`), "A2", "A10"].map((position, i) => ({ position, first_pixel: 2 * i, pixels: 2 }));
const floor = {
  panels,
  runs: [
    { node: "north", port: 2, start: "0:0:1", slot: 7, panels: ["A1", "B1"] },
    { node: null, port: null, start: "0:0:3", slot: 1, panels: ["C1"] },
  ],
  nodes: [{ name: "north", address: "10.0.0.21:6454" }],
  universes: [{ port_address: "0:0:1", slots: 512 }],
} as unknown as Floor;

test("the first choice is one panel at half level for five minutes, ended with the page", () => {
  // The daemon's own defaults: level 128, 300 s, white.
  assert.deepEqual(orderOf(firstChoice(floor), "id"), {
    pattern: { kind: "panel", position: "A1" }, cover: "all", level: 128, colour: "white", lasts_s: 300, ends_with: "id",
  });
});

test("every kind names what the daemon asks for", () => {
  const choice = { ...firstChoice(floor), endsWithPage: false };
  const named = Object.fromEntries(KINDS.map((kind) => [kind, orderOf({ ...choice, kind }, "id").pattern]));
  assert.deepEqual(named, {
    panel: { kind: "panel", position: "A1" },
    walk: { kind: "walk", run: null, pace: { held: 0 } },
    run: { kind: "run", run: 0 },
    row: { kind: "row", row: 1 },
    column: { kind: "column", column: "A" },
    node: { kind: "node", node: "north" },
    universe: { kind: "universe", port_address: "0:0:1" },
    colours: { kind: "colours", pace: { held: 0 } },
    labels: { kind: "labels" },
    joints: { kind: "joints", pace: { held: 0 } },
    all: { kind: "all" },
  });
  assert.equal("ends_with" in orderOf(choice, "id"), false);
  const auto = orderOf({ ...choice, kind: "walk", run: 1, auto: true, stepS: 0.5, covered: ["C1"], percent: 100, lastsMin: 1 }, null);
  assert.deepEqual(auto, { pattern: { kind: "walk", run: 1, pace: { step_ms: 500 } }, cover: { panels: ["C1"] }, level: 255, colour: "white", lasts_s: 60 });
});

test("a choice that lights nothing is not started", () => {
  const choice = firstChoice(floor);
  assert.equal(missing(choice), null);
  assert.match(missing({ ...choice, percent: 0 }) ?? "", /level/);
  assert.match(missing({ ...choice, covered: [] }) ?? "", /at least one panel/);
  assert.equal(missing({ ...choice, covered: ["A1"] }), null);
});

test("what a new floor no longer has is replaced", () => {
  const old = { ...firstChoice(floor), position: "Z9", run: 5, row: 9, column: "ZZ", node: "gone", portAddress: "9:9:9", covered: ["A1", "Z9"] };
  const now = fitted(old, floor);
  assert.deepEqual([now.position, now.run, now.row, now.column, now.node, now.portAddress], ["A1", null, 1, "A", "north", "0:0:1"]);
  assert.deepEqual(now.covered, ["A1"]);
  const same = { ...old, position: "A10", run: 1, row: 10, column: "AB", node: "north", portAddress: "0:0:1", covered: null };
  assert.deepEqual(fitted(same, floor), same);
});

test("rows and columns go by their order on the floor, not in the alphabet", () => {
  assert.deepEqual(rowsOf(floor), [1, 2, 10]);
  assert.deepEqual(columnsOf(floor), letters);
});

test("positions are found in what people type", () => {
  assert.deepEqual(positionsIn(" a1, B1;aa1  A1 Z9 ", floor), { found: ["A1", "B1", "AA1"], unknown: ["Z9"] });
});

test("a run is named by where it hangs", () => {
  assert.equal(runName(floor, 0), "Run 1: north port 2, from 0:0:1/7, 2 panels");
  assert.equal(runName(floor, 1), "Run 2: from 0:0:3/1, 1 panel");
});

test("who may not change anything is told why and what to do", () => {
  const rights = (may_control: boolean, passphrase_set: boolean, from_this_machine: boolean) => ({ may_control, passphrase_set, from_this_machine, guest: false, encrypted: false });
  assert.equal(barrier(rights(true, true, false), "open"), null);
  assert.match(barrier(rights(false, true, false), "open") ?? "", /Sign in/);
  assert.match(barrier(rights(false, false, false), "open") ?? "", /only from the machine that litfloor runs on/);
  assert.match(barrier(rights(false, false, true), "open") ?? "", /127\.0\.0\.1/);
  assert.match(barrier({ ...rights(false, true, false), guest: true }, "open") ?? "", /for guests/);
  assert.match(barrier(null, "open") ?? "", /Asking/);
  assert.match(barrier(rights(true, true, false), "lost") ?? "", /No connection/);
});

test("the time left counts down to zero and never below", () => {
  assert.deepEqual([299.2, 300, 59.01, 0.4, 0, -3, 3600, 3661].map(countdown), ["5:00", "5:00", "1:00", "0:01", "0:00", "0:00", "1:00:00", "1:01:01"]);
});

test("lit panels are those that are named, all, or those that show light", () => {
  const on = (lit: string[], lit_panels: number, covers_all = true) => ({ lit, lit_panels, covers_all }) as PatternState;
  assert.deepEqual(litPanels(on(["C1"], 1), floor, null), { positions: new Set(["C1"]), exact: true });
  assert.equal(litPanels(on(["A1"], panels.length), floor, null).positions.size, panels.length);
  const levels = new Uint8Array(panels.length * 2 * 3);
  // The last colour of panel B1's second pixel, and the first of C1's first.
  levels[11] = 1;
  levels[12] = 1;
  const picture = { kind: "levels", view: "sent", revision: 1, frame: 1, uptimeMs: 0, channels: 3, levels } as const;
  assert.deepEqual(litPanels(on(["A1"], 20), floor, picture), { positions: new Set(["B1", "C1"]), exact: true });
  assert.equal(litPanels(on(["A1"], 20, false), floor, picture).exact, false);
  assert.deepEqual(litPanels(on(["A1"], 20), floor, null), { positions: new Set(["A1"]), exact: false });
});

test("a walk's steps are told by its length and by where it is, or not at all", () => {
  const [first, second] = floor.runs.map((run) => run.panels);
  const all = [...(first ?? []), ...(second ?? [])];
  const on = (lit: string, step: number, steps: number, more = {}) =>
    ({ kind: "walk", lit: [lit], step, steps, covers_all: true, ...more }) as PatternState;
  assert.deepEqual(walkOrder(on(all[2]!, 2, 3), floor), all);
  assert.deepEqual(walkOrder(on(all[1]!, 1, 2), floor), first);
  assert.deepEqual(walkOrder(on(all[2]!, 0, 1), floor), second);
  assert.equal(walkOrder(on(all[2]!, 0, 1, { covers_all: false }), floor), null);
  assert.equal(walkOrder(on(all[0]!, 0, 3, { kind: "joints" }), floor), null);
  assert.equal(walkOrder(on(all[0]!, 1, 2), floor), null, "not where such a walk would be");
});
