import assert from "node:assert/strict";
import { test } from "node:test";
import * as format from "../../src/lib/format";
import { csvPath, ofField, rangeOf, rangePath, readFields, toField } from "../../src/lib/range";

test("a choice ends now and goes back as far as its name says", () => {
  assert.deepEqual(rangeOf("evening", 100_000.2), { from_s: 100_001 - 21_600, to_s: 100_001 });
  assert.deepEqual(rangeOf("day", 100_000), { from_s: 13_600, to_s: 100_000 });
});

test("a field of a local time is written and read back to the minute", () => {
  const noon = new Date(2026, 5, 20, 21, 14).getTime() / 1000;
  assert.equal(toField(noon + 59), "2026-06-20T21:14");
  assert.equal(ofField("2026-06-20T21:14"), noon);
  assert.equal(ofField(""), null);
});

test("two fields make a range or say what is wrong", () => {
  assert.equal(readFields("", "2026-06-20T21:14"), "Enter both times.");
  assert.equal(readFields("2026-06-20T21:14", "2026-06-20T21:14"), "The range must begin before it ends.");
  assert.equal(readFields("1960-06-20T21:14", "2026-06-20T21:14"), "The range must begin after 1970.");
  const range = readFields("2026-06-20T21:14", "2026-06-20T22:14");
  assert.ok(typeof range !== "string" && range.to_s - range.from_s === 3600);
});

test("names are written into an address so that none breaks it", () => {
  const path = rangePath({ from_s: 1, to_s: 2 }, "feed:a & b=c#1");
  const query = new URL(path, "http://localhost").searchParams;
  assert.equal(query.get("element"), "feed:a & b=c#1");
  assert.equal(csvPath({ from_s: 1, to_s: 2 }), "/api/v1/history.csv?from=1&to=2");
});

test("durations, ampere-hours and energies", () => {
  assert.deepEqual([0, 0.2, 59.9, 61, 3_700, 200_000].map(format.duration), ["0 s", "<1 s", "59 s", "1 min 1 s", "1 h 1 min", "2 d 7 h"]);
  assert.equal(format.duration(null), "–");
  assert.deepEqual([0.123, 12.34, 1234].map(format.ampHours), ["0.12 Ah", "12.3 Ah", "1234 Ah"]);
  assert.deepEqual([0.01234, 0.5, 12.34].map(format.energy), ["12.3 Wh", "0.50 kWh", "12.3 kWh"]);
});
