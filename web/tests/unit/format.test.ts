import assert from "node:assert/strict";
import { test } from "node:test";
import * as format from "../../src/lib/format";
import { explainReason, outcomeWord } from "../../src/lib/reasons";
import { pageOf } from "../../src/lib/route";
import { paint, stamp } from "../../src/lib/stamp";

test("amperes keep three figures and a missing one is a dash", () => {
  assert.deepEqual([0, 1.234, 12.34, 153.6].map(format.amps), ["0.00 A", "1.23 A", "12.3 A", "154 A"]);
  assert.equal(format.amps(null), "–");
  assert.equal(format.amps(Number.NaN), "–");
});

test("a share that is not whole never looks whole", () => {
  assert.equal(format.percent(1), "100 %");
  assert.equal(format.percent(0.9999), "99 %");
  assert.equal(format.percent(1.0001), "101 %");
  assert.equal(format.percent(0.001), "<1 %");
  assert.equal(format.percent(0), "0 %");
  assert.equal(format.percent(-0.2), "−20 %");
  assert.equal(format.percent(null), "–");
});

test("times, counts and powers", () => {
  assert.deepEqual([0.04, 9.94, 59, 180, 7300].map(format.seconds), ["0.0 s", "9.9 s", "59 s", "3 min", "2 h"]);
  assert.equal(format.seconds(null), "never");
  assert.equal(format.ago(0.02), "just now");
  assert.equal(format.uptime(3725.9), "1:02:05");
  assert.equal(format.count(1234567), "1\u202f234\u202f567");
  assert.equal(format.voltAmps(999.4), "999 VA");
  assert.equal(format.voltAmps(2300), "2.30 kVA");
  assert.equal(format.plural(1, "panel"), "1 panel");
  assert.equal(format.plural(2, "supply", "supplies"), "2 supplies");
});

test("a dot is round, opaque in the middle and paints what the pixel says", () => {
  const dot = stamp(9, 20);
  const area = dot.alpha.reduce((sum, alpha) => sum + (alpha >>> 24) / 255, 0);
  assert.ok(Math.abs(area - Math.PI * 4.5 ** 2) < 2, `area ${area}`);
  const image = new Uint32Array(20 * 20);
  paint(image, Uint8Array.from([9, 9, 9, 1, 2, 3]), Uint32Array.of(1), Uint32Array.of(2 * 20 + 3), dot);
  assert.deepEqual([...new Uint8Array(image.buffer, (6 * 20 + 7) * 4, 4)], [1, 2, 3, 255]);
  assert.equal(image[0], 0);
  assert.deepEqual([...stamp(2, 10).at], [0, 1, 10, 11], "small dots are squares");
});

test("every reason has an explanation, an unknown one too", () => {
  const known = ["not_artnet", "truncated", "bad_version", "bad_length", "bad_address", "unknown_opcode", "old_sequence", "third_source", "unmapped", "switches_from_elsewhere"];
  const fallback = explainReason("some_new_word");
  assert.equal(fallback.title, "some new word");
  for (const word of known) assert.notEqual(explainReason(word).text, fallback.text, word);
});

test("outcomes have words, and refused ones the same as their reason", () => {
  for (const word of ["taken", "held_for_sync", "sync_ignored", "poll_reply", "passed_over", "switches"]) {
    assert.ok(!outcomeWord(word).includes("_"), word);
  }
  assert.equal(outcomeWord("old_sequence"), explainReason("old_sequence").title);
  assert.equal(outcomeWord("some_new_word"), "some new word");
});

test("hashes name pages, and all else is the floor", () => {
  assert.deepEqual(["#/power", "#/nodes", "#/signal", "#/floor", "", "#/else"].map(pageOf), ["power", "nodes", "signal", "floor", "floor", "floor"]);
});
