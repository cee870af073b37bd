import assert from "node:assert/strict";
import { test } from "node:test";
import type { ArrivalState, UniverseState } from "../../src/api/types";
import { inTrouble, shiftWords, troubles } from "../../src/lib/trouble";

const universe = (arrival: Partial<ArrivalState>, more: Partial<UniverseState> = {}) =>
  ({
    port_address: "0:0:1", fps: 40, age_s: 0.1, sources: [], slots: 512, mapped: true, merging: false, synced: false, lost: false,
    arrival: {
      needs_slots: 512, short_by_slots: 0, cut_off: [], cut_off_panels: 0, odd_length: false, length_varies: false, moving_slots: 0,
      still_lit_slots: 0, stray_lit_slots: 0, missing_frames: null, overtaken_frames: 0, contested_slots: 0, source_changes: 0,
      offset_slots: null, ...arrival,
    },
    ...more,
  }) as UniverseState;
const told = (u: UniverseState) => troubles(u).map((t) => t.text);

test("what arrives as it should has no trouble", () => {
  assert.deepEqual(told(universe({ missing_frames: 0, moving_slots: 300 })), []);
  assert.equal(inTrouble(universe({ missing_frames: 9, overtaken_frames: 9, source_changes: 2 })), false);
});

test("each fault is told in words", () => {
  const cut = universe({ short_by_slots: 30, cut_off: ["H2", "I2"], cut_off_panels: 5 });
  assert.deepEqual(told(cut), ["ends 30 slots too early: H2, I2 and 3 more get nothing, or not all"]);
  assert.deepEqual(told(universe({ offset_slots: -1 })), ["its light lies 1 slot earlier than mapped"]);
  assert.deepEqual(told(universe({ contested_slots: 12 })), ["two sources fight over 12 slots"]);
  assert.deepEqual(told(universe({ missing_frames: 10 })), ["10 frames missing in the last minute"]);
  assert.deepEqual(told(universe({}, { lost: true })), ["lost: it no longer arrives"]);
  assert.equal(shiftWords(3), "3 slots later");
});

test("only what someone should look at counts as trouble", () => {
  assert.equal(inTrouble(universe({ stray_lit_slots: 4, length_varies: true })), false);
  assert.equal(inTrouble(universe({}, { mapped: false })), true);
  assert.equal(inTrouble(universe({}, { age_s: null })), true);
  assert.equal(inTrouble(universe({ odd_length: true })), true);
});
