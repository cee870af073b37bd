import assert from "node:assert/strict";
import { test } from "node:test";
import type { NodeState } from "../../src/api/types";
import { answerOf, silenceWords, silentNodes } from "../../src/lib/nodes";

const node = (name: string, online: boolean, last_reply_s: number | null) => ({ name, online, last_reply_s }) as NodeState;

test("a node that has not answered yet is silent only after a while", () => {
  const nodes = [node("on", true, 1), node("gone", false, 14), node("never", false, null)];
  assert.deepEqual(nodes.map((n) => answerOf(n, 3)), ["answers", "silent", "early"]);
  assert.deepEqual(nodes.map((n) => answerOf(n, 30)), ["answers", "silent", "never"]);
  assert.deepEqual([...silentNodes(nodes, 3)], ["gone"]);
  assert.deepEqual([...silentNodes(nodes, 30)], ["gone", "never"]);
});

test("silence is told with its length, or since when", () => {
  assert.equal(silenceWords(node("gone", false, 14)), "has not answered for 14 s");
  assert.equal(silenceWords(node("never", false, null)), "has not answered since the start");
});
