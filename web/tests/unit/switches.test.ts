import assert from "node:assert/strict";
import { test } from "node:test";
import { pressedWords } from "../../src/lib/switches";

test("what is not known is not called released", () => {
  assert.equal(pressedWords({ pressed: [], switches_known: true }), "none");
  assert.equal(pressedWords({ pressed: [2, 3], switches_known: true }), "switch 2, 3");
  assert.equal(pressedWords({ pressed: [], switches_known: false }), "not known");
  assert.equal(pressedWords({ pressed: [1], switches_known: false }), "switch 1; others not known");
});
