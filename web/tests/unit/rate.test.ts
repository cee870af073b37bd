import assert from "node:assert/strict";
import { test } from "node:test";
import { Pace } from "../../src/lib/rate";

/** Pictures that arrive `lateMs(t)` after the fastest possible, for some seconds. */
function arrive(pace: Pace, fromS: number, toS: number, lateMs: (s: number) => number): void {
  for (let s = fromS; s < toS; s += 1 / pace.fps) pace.note(s * 1000, 5_000 + s * 1000 + 20 + lateMs(s));
}

test("a fast link keeps thirty pictures a second", () => {
  const pace = new Pace();
  arrive(pace, 0, 60, (s) => (s * 37) % 60);
  assert.equal(pace.fps, 30);
});

test("pictures that queue up are halved until they are in time, and come back later", () => {
  const pace = new Pace();
  arrive(pace, 0, 2, () => 0);
  arrive(pace, 2, 6, (s) => 100 * (s - 2) + 300);
  assert.equal(pace.fps, 7, "halved twice, with a pause between");
  arrive(pace, 6, 14, () => 10);
  assert.equal(pace.fps, 7, "not at once");
  arrive(pace, 14, 30, () => 10);
  assert.equal(pace.fps, 28);
  arrive(pace, 30, 45, () => 10);
  assert.equal(pace.fps, 30);
});

test("a clock that drifts or is set is not taken for a slow link", () => {
  const pace = new Pace();
  // 200 parts in a million: a poor quartz.
  arrive(pace, 0, 3600, (s) => s * 0.2);
  assert.equal(pace.fps, 30);
  arrive(pace, 3600, 3660, () => 4_000_000);
  assert.equal(pace.fps, 30);
});

test("a picture that stood still for a minute before it was sent is no sign of a slow link", () => {
  const pace = new Pace();
  arrive(pace, 0, 5, () => 0);
  pace.note(5_000, 5_000 + 65_020);
  arrive(pace, 65, 70, () => 0);
  assert.equal(pace.fps, 30);
});

test("it never asks for less than three", () => {
  const pace = new Pace();
  pace.note(0, 0);
  for (let s = 1; s < 100; s++) pace.note(s * 1000, s * 1000 + 300 + 40 * s);
  assert.equal(pace.fps, 3);
});
