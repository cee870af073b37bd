import assert from "node:assert/strict";
import { test } from "node:test";
import type { Floor, Voltages } from "../../src/api/types.ts";
import { panelVolts, starving, unknownWays } from "../../src/lib/voltages.ts";

const floor = {
  panels: [
    { position: "A1", kind: "square", strip_known: true },
    { position: "B1", kind: "edge", strip_known: false },
    { position: "C1", kind: "edge", strip_known: false },
  ],
  feeds: [
    { name: "F1", cable_known: true },
    { name: "F2", cable_known: false },
  ],
} as unknown as Floor;

const found = {
  found: true,
  panels: {
    input_v: [11.5, 11, 12],
    lowest_v: [11.2, 9.75, 12],
    lowest_pixel: [40, 2, 1],
    lost_percent: [0.99, 50, null],
    draw_a: [2, 1, 0.1],
  },
} as unknown as Voltages;

test("a panel's voltages are those in its place", () => {
  assert.deepEqual(panelVolts(found, floor, "B1"), { input_v: 11, lowest_v: 9.75, lowest_pixel: 2, lost: 0.5, draw_a: 1 });
  assert.equal(panelVolts(found, floor, "C1")?.lost, null);
});

test("nothing is told of what is not found or not there", () => {
  assert.equal(panelVolts(null, floor, "A1"), null);
  assert.equal(panelVolts({ ...found, found: false }, floor, "A1"), null);
  assert.equal(panelVolts(found, floor, "Z9"), null);
  assert.equal(starving({ ...found, found: false }, floor).size, 0);
});

test("a panel starves from one per cent on", () => {
  assert.deepEqual([...starving(found, floor)], ["B1"]);
});

test("what the file leaves out is named once", () => {
  assert.deepEqual(unknownWays(floor), { feeds: ["F2"], kinds: ["edge"] });
});
