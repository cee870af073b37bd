import assert from "node:assert/strict";
import { test } from "node:test";
import type { HistoryReply, LoadState, State } from "../../src/api/types";
import { History, KEPT_S } from "../../src/lib/history";

const load = (name: string, draw_a: number) => ({ name, draw_a, asked_a: draw_a * 2 }) as LoadState;
const at = (uptime_s: number, draw_a: number) =>
  ({ uptime_s, circuits: [load("c", draw_a)], supplies: [], feeds: [load("f", draw_a / 10)] }) as unknown as State;
const reply: HistoryReply = {
  step_s: 1,
  names: { circuits: ["c"], supplies: [], feeds: ["f"] },
  uptime_s: [1, 2, 3],
  asked_a: { circuits: [[2, 4, 6]] },
  draw_a: { circuits: [[1, 2, 3]], supplies: [], feeds: [[0.1, 0.2, 0.3]] },
};

test("rows follow on what the daemon kept, one a second", () => {
  const history = new History();
  history.load(reply);
  assert.equal(history.append(at(3.4, 9)), false, "the same second");
  assert.equal(history.append(at(4.1, 4)), true);
  assert.equal(history.append(at(4.6, 5)), false);
  assert.deepEqual(history.uptime_s, [1, 2, 3, 4.1]);
  assert.deepEqual(history.series("circuits", "c"), { asked_a: [2, 4, 6, 8], draw_a: [1, 2, 3, 4] });
});

test("what the daemon did not keep is a gap, not a zero", () => {
  const history = new History();
  history.load(reply);
  assert.deepEqual(history.series("feeds", "f")?.asked_a, [null, null, null]);
});

test("only ten minutes are kept", () => {
  const history = new History();
  for (let t = 1; t <= KEPT_S + 50; t++) history.append(at(t, t));
  assert.equal(history.uptime_s.length, KEPT_S);
  assert.equal(history.uptime_s[0], 51);
  assert.equal(history.series("circuits", "c")?.draw_a[0], 51);
  assert.equal(history.series("circuits", "c")?.draw_a.length, KEPT_S);
});

test("a daemon that began anew begins a new history", () => {
  const history = new History();
  history.load(reply);
  assert.equal(history.append(at(0.5, 7)), true);
  assert.deepEqual(history.uptime_s, [0.5]);
  assert.deepEqual(history.series("circuits", "c")?.draw_a, [7]);
});

test("an element that appears later has gaps before it", () => {
  const history = new History();
  history.append({ uptime_s: 1, circuits: [], supplies: [], feeds: [] } as unknown as State);
  history.append(at(2, 3));
  assert.deepEqual(history.series("circuits", "c")?.draw_a, [null, 3]);
});
