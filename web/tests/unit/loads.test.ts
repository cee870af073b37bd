import assert from "node:assert/strict";
import { test } from "node:test";
import type { Floor, LoadState, PanelState, State } from "../../src/api/types";
import { headroom, mains, tree, worstHeadroom } from "../../src/lib/loads";

const load = (name: string, parent: string | null, draw_a: number, limit_a: number) =>
  ({ name, parent, draw_a, limit_a }) as LoadState;
const panel = (position: string, draw_a: number, limit_a: number | null) => ({ position, draw_a, limit_a }) as PanelState;
const state = {
  circuits: [load("c1", null, 8, 12.8), load("c2", null, 2, 12.8)],
  supplies: [load("s1", "c1", 153.6, 160)],
  feeds: [load("f1", "s1", 9, 12), load("f2", "nowhere", 1, 12)],
  panels: [panel("A1", 2.4, null), panel("A2", 1, 10)],
} as unknown as State;
const floor = {
  circuits: [{ name: "c1", volts: 230 }, { name: "c2", volts: 115 }],
  panels: [{ position: "A1", feed: "f1" }, { position: "A2", feed: "f2" }, { position: "A3", feed: "f1" }],
} as unknown as Floor;

test("headroom is the share of the limit that is left", () => {
  // 153.6 A on a 200 A supply with a margin of 0.8 (common practice, no source): 6.4 of 160 A are left.
  assert.ok(Math.abs(headroom(153.6, 160)! - 0.04) < 1e-12);
  assert.equal(headroom(1, null), null);
  assert.equal(headroom(12, 10), -0.2);
  assert.equal(headroom(0, 0), 0);
  assert.equal(headroom(1, 0), -1);
});

test("the worst of all limits has its name", () => {
  const worst = worstHeadroom(state);
  assert.equal(worst?.name, "supply s1");
  assert.equal(worstHeadroom({ circuits: [], supplies: [], feeds: [], panels: [panel("A1", 1, null)] } as unknown as State), null);
});

test("mains power counts each circuit with its own volts", () => {
  assert.deepEqual(mains(state, floor), { draw_a: 10, power_va: 8 * 230 + 2 * 115 });
});

test("the tree hangs everything under its parent, and loses nothing", () => {
  const branches = tree(state, floor);
  assert.deepEqual(branches.map((b) => b.load.name), ["c1", "c2", "f2"]);
  const feed = branches[0]!.children[0]!.children[0]!;
  assert.equal(feed.load.name, "f1");
  assert.deepEqual(feed.panels.map((p) => p.info.position), ["A1"], "a panel without a state is left out");
});
