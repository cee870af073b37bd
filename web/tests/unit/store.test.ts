import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import type { LevelsMessage, Message } from "../../src/api/decode";
import type { Floor, State } from "../../src/api/types";
import * as store from "../../src/store";

const floor = (...positions: string[]) => ({ panels: positions.map((position) => ({ position })) }) as Floor;
const picture = (view: "sent" | "asked", revision: number, uptimeMs: number, pixels = 2): LevelsMessage => ({
  kind: "levels", view, revision, frame: uptimeMs, uptimeMs, channels: 3, levels: new Uint8Array(pixels * 3),
});
const layout = (revision: number, ...positions: string[]) =>
  ({ kind: "layout", revision, floor: floor(...positions), xyMm: new Float32Array(4) }) as const;

beforeEach(() => {
  store.view.value = "sent";
  store.selected.value = null;
  store.apply(layout(1, "A1", "B1"), 1000);
});

test("each message lands in its place and says when it was heard", () => {
  store.apply({ kind: "state", revision: 1, state: { uptime_s: 5, universes: [] as unknown } as State }, 2000);
  store.apply(picture("sent", 1, 10), 3000);
  assert.equal(store.layout.value?.revision, 1);
  assert.equal(store.state.value?.uptime_s, 5);
  assert.equal(store.levels.sent.value?.uptimeMs, 10);
  assert.equal(store.heardAtMs.value, 3000);
  store.nowMs.value = 10_400;
  assert.equal(store.ageS.value, 7);
});

test("who sent a universe last is kept when it falls silent", () => {
  const universe = (...sources: { address: string; age_s: number }[]) =>
    ({ kind: "state", revision: 1, state: { universes: [{ port_address: "0:0:2", sources }] } }) as unknown as Message;
  store.apply(universe({ address: "10.0.0.5", age_s: 2 }, { address: "10.0.0.6", age_s: 0.1 }), 1);
  store.apply(universe(), 2);
  assert.equal(store.lastSources.get("0:0:2"), "10.0.0.6");
});

test("a picture of another floor, or of another size, is left out", () => {
  assert.equal(store.takeLevels(picture("sent", 2, 1)), false);
  assert.equal(store.takeLevels(picture("sent", 1, 1, 3)), false);
  assert.equal(store.levels.sent.value, null);
  const white = { channels: 4, levels: new Uint8Array(8) };
  assert.equal(store.takeLevels({ ...picture("sent", 1, 1), ...white, channels: 3 }), false);
  assert.equal(store.takeLevels({ ...picture("sent", 1, 1), ...white }), true);
});

test("a new floor drops old pictures, and the choice if its place is gone", () => {
  store.takeLevels(picture("sent", 1, 1));
  store.selected.value = "B1";
  store.apply(layout(2, "A1", "B1"), 1);
  assert.equal(store.levels.sent.value, null);
  assert.equal(store.selected.value, "B1");
  store.apply(layout(3, "A1"), 2);
  assert.equal(store.selected.value, null);
});

test("asked and sent are compared at the same moment", () => {
  for (const t of [100, 133, 166, 200, 233]) store.takeLevels(picture("sent", 1, t));
  assert.equal(store.compared.value.sent?.uptimeMs, 233);
  assert.equal(store.compared.value.asked, null);
  store.takeLevels(picture("asked", 1, 170));
  assert.equal(store.compared.value.sent?.uptimeMs, 166);
  assert.equal(store.compared.value.asked?.uptimeMs, 170);
  store.view.value = "asked";
  assert.equal(store.compared.value.asked?.uptimeMs, 170);
  assert.equal(store.compared.value.sent?.uptimeMs, 233);
});
