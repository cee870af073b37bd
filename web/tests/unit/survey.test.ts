import assert from "node:assert/strict";
import { test } from "node:test";
import { foundWords, litByPanel, progressWords, share, toggled } from "../../src/lib/survey.ts";

const lit = [{ position: "A1", segment: 1 }, { position: "B1", segment: 2 }, { position: "A1", segment: 4 }];

test("how far a survey is", () => {
  assert.equal(share({ by: "sensors", decided: 64, items: 256, question: null }), 0.25);
  assert.equal(share({ by: "eyes", decided: 0, items: 256, question: { number: 3, total: 8, lit: [], text: "" } }), 0.25);
  assert.equal(share({ by: "sensors", decided: 0, items: 0, question: null }), 0);
});

test("the time left is told, or that nobody knows", () => {
  assert.equal(progressWords({ decided: 3, items: 256, left_s: null, pattern: 2 }), "3 of 256 items decided, how long it takes can't be told yet; light 2");
  assert.equal(progressWords({ decided: 0, items: 1, left_s: 0.2, pattern: 9 }), "0 of 1 item decided, about 1 s left; light 9");
  assert.match(progressWords({ decided: 0, items: 4, left_s: 75.2, pattern: 9 }), /about 1 min 16 s left/);
});

test("what should be lit is gathered panel by panel", () => {
  assert.deepEqual([...litByPanel({ lit })], [["A1", [1, 4]], ["B1", [2]]]);
});

test("a second tap takes the first back", () => {
  const once = toggled([], lit[0]!);
  assert.deepEqual(once, [{ position: "A1", segment: 1 }]);
  assert.deepEqual(toggled(once, lit[2]!), [lit[0], lit[2]]);
  assert.deepEqual(toggled(once, { position: "A1", segment: 1 }), []);
});

test("what was found is told panel by panel, colours apart", () => {
  const item = (position: string, segment: number, colour: string | null = null) => ({ position, segment, colour });
  assert.deepEqual(foundWords([item("C4", 2), item("F5", 1), item("C4", 3), item("C4", 5, "red"), item("C4", 4)]), [
    { position: "C4", text: "segments 2, 3 and 4; red of segment 5" },
    { position: "F5", text: "segment 1" },
  ]);
});
