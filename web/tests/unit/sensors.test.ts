import assert from "node:assert/strict";
import { test } from "node:test";
import type { SensorState } from "../../src/api/types.ts";
import { difference, measuredAt, reading, taught } from "../../src/lib/sensors.ts";

const sensor = (more: Partial<SensorState> = {}): SensorState => ({
  name: "clamp", place: "supply s", quantity: "current", state: "good", measured: 5, computed: 5, expected: 5,
  difference_percent: 0, tolerance_percent: 5, age_s: 0.2, live_limit_a: null, stricter: false, calibration: null, ...more,
});

test("a reading has its unit, and a missing one is a dash", () => {
  assert.equal(reading(sensor(), 12.345), "12.3 A");
  assert.equal(reading(sensor({ quantity: "voltage" }), 11.874), "11.87 V");
  assert.equal(reading(sensor({ quantity: "voltage" }), 231.4), "231 V");
  assert.equal(reading(sensor(), null), "–");
});

test("the larger of two sensors counts, and none that can't be believed", () => {
  const all = [sensor({ measured: 4 }), sensor({ measured: 5.5, state: "apart_above" }), sensor({ measured: 9, state: "frozen" })];
  assert.equal(measuredAt(all, "supply s"), "5.50 A");
  assert.equal(measuredAt(all, "feed f"), null);
  assert.equal(measuredAt([sensor({ measured: null })], "supply s"), null);
});

test("a difference has its sign", () => {
  assert.deepEqual([4.96, -4.96, 0.01, 21.4, null].map(difference), ["+5.0 %", "−5.0 %", "0 %", "+21 %", "–"]);
});

test("what a run taught is told in one line", () => {
  const calibration = { idle_a: 0.31, gains: { red: 1.034, blue: 0.99 }, residual_a: 0.04, above_a: 0.02 };
  assert.equal(taught(sensor({ calibration })), "calibrated: dark 0.31 A, red × 1.03, blue × 0.99");
  assert.equal(taught(sensor()), "not calibrated");
});
