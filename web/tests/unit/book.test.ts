import assert from "node:assert/strict";
import { test } from "node:test";
import type { SensorState } from "../../src/api/types.ts";
import { benchOrder, benchSteps, wrongWords } from "../../src/lib/bench.ts";
import { labelAddress, moment, nextSteps, onlyHere, searched, sensorOf, serialIn, serialsIn, settledMean, signatureWords } from "../../src/lib/book.ts";
import { outlines } from "../../src/lib/outline.ts";
import { argumentOf, entryOf, hashOf, pageOf } from "../../src/lib/route.ts";

test("a code's address gives its serial, and a bare serial stays", () => {
  assert.equal(serialIn("http://192.168.1.20:8080/#/panel/M%20017"), "M 017");
  assert.equal(serialIn("  M017 "), "M017");
  // Another page's address is no panel's.
  assert.equal(serialIn("http://192.168.1.20/#/power"), "http://192.168.1.20/#/power");
});

test("pages have their arguments, whatever stands in a serial", () => {
  for (const serial of ["M017", "a/b", "50 %", "Ü#1", ""]) {
    const hash = hashOf("panel", serial);
    assert.deepEqual([pageOf(hash), argumentOf(hash)], ["panel", serial]);
    // What a browser makes of an address.
    assert.equal(argumentOf(new URL(`http://h/${hash}`).hash), serial);
  }
  assert.equal(argumentOf("#/panel/50%"), "50%");
  assert.deepEqual([pageOf("#/power"), pageOf("#/nothing/else"), pageOf(""), pageOf("#power")], ["power", "floor", "floor", "power"]);
  assert.equal(entryOf("bench"), "faults");
});

test("an address that only this machine opens is known as such", () => {
  for (const here of ["http://localhost:8080", "http://127.0.0.1:8080", "http://127.9.9.9", "http://[::1]:80", "http://floor.localhost"]) assert.equal(onlyHere(here), true, here);
  for (const away of ["http://192.168.1.20:8080", "http://floor.local", "nonsense"]) assert.equal(onlyHere(away), false, away);
  assert.equal(labelAddress(" http://10.0.0.5:8080/#/power "), "http://10.0.0.5:8080");
  assert.equal(labelAddress("10.0.0.5"), null);
  assert.equal(labelAddress("javascript:alert(1)"), null);
});

test("nobody but a survey proves a fault", () => {
  for (const stage of ["found", "being_repaired", "repaired", "proved", "dismissed"] as const) {
    const next = nextSteps(stage).map(({ state }) => state as string);
    assert.ok(next.length > 0 && !next.includes("proved") && !next.includes(stage), stage);
  }
});

test("readings count once the light has settled", () => {
  const readings = [{ at_ms: 1000, value: 90 }, { at_ms: 2400, value: 50 }, { at_ms: 2500, value: 2 }, { at_ms: 3500, value: 4 }];
  assert.equal(settledMean(readings, 1000, 1500), 3);
  assert.equal(settledMean(readings, 3000, 1500), null);
});

test("a signature is told colour by colour, in one order", () => {
  assert.equal(signatureWords({ white_a: 1.432, dark_a: 0.041 }), "dark 0.04 A, white 1.43 A");
  assert.equal(signatureWords(null), "");
});

test("the sensor that sees the least else is taken, if it can be believed", () => {
  const sensor = (name: string, place: string, state: SensorState["state"] = "good", quantity: SensorState["quantity"] = "current") => ({ name, place, state, quantity }) as SensorState;
  const at = { position: "A1", feed: "L1", supply: "left", circuit: "grey" };
  const all = [sensor("s", "supply left"), sensor("f", "feed L1"), sensor("v", "panel A1", "good", "voltage")];
  assert.equal(sensorOf(all, at)?.name, "f");
  assert.equal(sensorOf([sensor("s", "supply left"), sensor("f", "feed L1", "frozen")], at)?.name, "s");
  assert.equal(sensorOf([sensor("o", "feed R1")], at), null);
});

test("moments are short, with the year only where it is another one", () => {
  const now = new Date("2026-11-27T12:00:00");
  assert.equal(moment("2026-11-26T16:12:00", now), "26 Nov, 16:12");
  assert.equal(moment("2025-01-05T06:02:00", now), "5 Jan 2025, 06:02");
  assert.equal(moment("never", now), "never");
});

test("panels are searched by a part of the serial or by the position", () => {
  const rows = [{ serial: "M017", position: "H2" }, { serial: "M170", position: null }, { serial: "X", position: "M1" }];
  assert.deepEqual(searched(rows, " m17 ").map(({ serial }) => serial), ["M170"]);
  assert.deepEqual(searched(rows, "h2").map(({ serial }) => serial), ["M017"]);
  assert.equal(searched(rows, "").length, 3);
  assert.deepEqual(serialsIn("M1, M2;M1  M3"), ["M1", "M2", "M3"]);
});

test("the bench shows dark, each colour, white and each segment, always at one level", () => {
  const steps = benchSteps(2);
  assert.deepEqual(steps.map(({ key }) => key), ["dark", "red", "green", "blue", "white", "segment 1", "segment 2"]);
  const orders = steps.map((step) => benchOrder(step, "A1", true, "id"));
  assert.deepEqual(orders.map(({ level }) => level), [0, 128, 128, 128, 128, 128, 128]);
  assert.deepEqual(orders.map(({ cover }) => cover), steps.map(() => "all"));
  assert.deepEqual(benchOrder(steps[6]!, "A1", false, null).pattern, { kind: "segment", position: "A1", segment: 2 });
  assert.deepEqual(benchOrder(steps[6]!, "A1", false, null).cover, { panels: ["A1"] });
  assert.equal(wrongWords(["red", "segment 3"]), "Not right: red, segment 3.");
});

test("segments are drawn as they run, without the points of straight ways", () => {
  // Round a corner, and a segment of one pixel.
  const xyMm = Float32Array.from([0, 0, 10, 0, 20, 0, 30, 0, 30, 10, 30, 20, 99, 5]);
  const floor = { panels: [{ position: "A1", first_pixel: 0, segments: [6, 1] }] };
  const drawn = outlines({ floor: floor as never, xyMm });
  assert.deepEqual(drawn.get("A1"), ["M0 0L30 0L30 20", "M99 5h0"]);
});

test("a strip that turns back on itself keeps its turning point", () => {
  const xyMm = Float32Array.from([0, 0, 10, 0, 20, 0, 10, 0]);
  assert.deepEqual(outlines({ floor: { panels: [{ position: "A1", first_pixel: 0, segments: [4] }] } as never, xyMm }).get("A1"), ["M0 0L20 0L10 0"]);
});
