import assert from "node:assert/strict";
import { test } from "node:test";
import type { DrawnPixel, LightColour } from "../../src/api/types";
import { dots, frameOf, inFrame, litPositions, nameplate, plates, sightWords } from "../../src/lib/sight";

/** Three by three panels of 100 mm. */
const panels = [..."ABC"].flatMap((letter, column) =>
  [1, 2, 3].map((row) => ({ position: `${letter}${row}`, x_mm: column * 100, y_mm: (row - 1) * 100, width_mm: 100, height_mm: 100 })),
);
const floor = { width_mm: 300, height_mm: 300, panels };
const light = (position: string, x_mm: number, y_mm: number, colour: LightColour): DrawnPixel => ({ position, x_mm, y_mm, colour });

/** One red pixel in a corner of B2, two blue ones along its upper edge, the rest green. */
const marked = {
  lights: [
    light("B2", 105, 105, "red"), light("B2", 140, 105, "blue"), light("B2", 160, 105, "blue"),
    light("B2", 195, 195, "green"), light("B2", 105, 195, "green"), light("B2", 150, 195, "green"),
  ],
};

test("a sight is told in words, the fewest first and with where they are", () => {
  assert.equal(sightWords(marked, panels), "B2: 1 red upper left, 2 blue at the top, 3 green");
  assert.equal(sightWords({ lights: [light("C3", 250, 250, "white")] }, panels), "C3: 1 white all over");
});

test("panels with more light come first, and of many only three are told", () => {
  const spread = { lights: [...["A1", "A2", "A3", "C1"].map((p) => light(p, 0, 0, "red")), light("C1", 1, 1, "red")] };
  assert.deepEqual(litPositions(spread), ["C1", "A1", "A2", "A3"]);
  assert.match(sightWords(spread, panels), /^C1: 2 red .*; A1: .*; A2: .*; and 1 other panel$/);
});

test("what is drawn is a square around the light that stays on the floor", () => {
  assert.deepEqual(frameOf(marked, floor), { x: 75, y: 75, width: 150, height: 150 });
  assert.deepEqual(frameOf({ lights: [light("A1", 1, 1, "red")] }, floor), { x: 0, y: 0, width: 150, height: 150 });
  const row = frameOf({ lights: ["A3", "B3", "C3"].map((p) => light(p, 1, 1, "red")) }, floor);
  assert.deepEqual(row, { x: -25, y: -25, width: 350, height: 350 });
  // Nothing that the plan has: nothing to divide by.
  assert.ok(frameOf({ lights: [light("Z9", 1, 1, "red")] }, floor).width > 0);
});

test("only panels in sight are drawn, and named amid what is seen of them", () => {
  const frame = { x: 100, y: 100, width: 140, height: 140 };
  assert.deepEqual(inFrame(panels, frame).map((p) => p.position), ["B2", "B3", "C2", "C3"]);
  const at = (position: string) => nameplate(panels.find((p) => p.position === position)!, frame);
  assert.deepEqual(at("B2"), { x: 150, y: 150, size: 20 });
  assert.deepEqual(at("C2"), { x: 220, y: 150, size: 18 });
  assert.equal(nameplate(panels[0]!, { x: 90, y: 0, width: 50, height: 50 }), null);
});

test("paths go by the rules of SVG: a dot is a line without length, a panel a closed outline", () => {
  assert.equal(dots([[1, 2.04], [3, 4]]), "M1 2h0M3 4h0");
  assert.equal(plates(panels.slice(0, 1), 5), "M5 5h90v90h-90z");
});
