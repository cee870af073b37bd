import assert from "node:assert/strict";
import { test } from "node:test";
import { decode, DecodeError } from "../../src/api/decode";

/** Bytes written by hand from the contract, so that nothing here shares code with the reader. */
const bytes = (...list: number[]) => Uint8Array.from(list).buffer;
const text = (words: string) => [...new TextEncoder().encode(words)];

test("a layout carries its JSON and the place of every pixel", () => {
  const json = text('{"name":"x"}');
  assert.equal(json.length, 12);
  const message = decode(
    bytes(1, 1, 0, 0, 7, 0, 0, 0, 12, 0, 0, 0, 1, 0, 0, 0, ...json, 0, 0, 0x20, 0x41, 0, 0, 0xa0, 0xc0),
  );
  assert.ok(message.kind === "layout");
  assert.equal(message.revision, 7);
  assert.equal(message.floor.name, "x");
  // IEEE 754 single precision: 0x41200000 is 10, 0xC0A00000 is -5.
  assert.deepEqual([...message.xyMm], [10, -5]);
});

test("padding of the JSON may or may not be counted in its length", () => {
  const padded = text('{"name":"xy"}   ');
  for (const length of [13, 16]) {
    const message = decode(
      bytes(1, 1, 0, 0, 1, 0, 0, 0, length, 0, 0, 0, 1, 0, 0, 0, ...padded, 0, 0, 0x80, 0x3f, 0, 0, 0, 0x40),
    );
    assert.ok(message.kind === "layout");
    assert.deepEqual([message.floor.name, ...message.xyMm], ["xy", 1, 2]);
  }
});

test("levels carry view, revision, frame, time and whole pixels", () => {
  const message = decode(bytes(2, 1, 3, 0, 1, 2, 0, 0, 4, 3, 2, 1, 0x10, 0x27, 0, 0, 1, 2, 3, 250, 251, 252));
  assert.ok(message.kind === "levels");
  assert.equal(message.view, "asked");
  assert.equal(message.revision, 513);
  assert.equal(message.frame, 0x01020304);
  assert.equal(message.uptimeMs, 10_000);
  assert.equal(message.channels, 3);
  assert.deepEqual([...message.levels], [1, 2, 3, 250, 251, 252]);
  const white = decode(bytes(2, 0, 4, 0, 1, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 159, 159, 159, 159));
  assert.ok(white.kind === "levels");
  assert.equal(white.channels, 4);
  assert.deepEqual([...white.levels], [159, 159, 159, 159]);
});

test("a state carries its revision and JSON", () => {
  const message = decode(bytes(3, 0, 0, 0, 9, 0, 0, 0, ...text('{"uptime_s":1.5}')));
  assert.ok(message.kind === "state");
  assert.equal(message.revision, 9);
  assert.equal(message.state.uptime_s, 1.5);
});

test("slots carry every universe with its age, verdict, levels and what moves", () => {
  const universe = (head: number[], level: number) => [...head, ...Array(512).fill(level), 0b101, ...Array(63).fill(0)];
  const message = decode(
    bytes(
      5, 0, 2, 0, 7, 0, 0, 0, 0x10, 0x27, 0, 0,
      ...universe([0x23, 0x01, 0x00, 0x02, 50, 0, 0, 0, 3, 0, 0xfd, 0xff], 9),
      ...universe([2, 0, 0, 0, 255, 255, 255, 255, 0, 0, 0, 0], 0),
    ),
  );
  assert.ok(message.kind === "slots");
  assert.deepEqual([message.revision, message.uptimeMs, message.universes.length], [7, 10_000, 2]);
  const [one, other] = message.universes;
  assert.ok(one && other);
  assert.deepEqual([one.flat, one.length, one.ageMs, one.verdict, one.shift], [0x123, 512, 50, "shifted", -3]);
  assert.deepEqual([one.levels.length, one.levels[511], one.moving.length, one.moving[0]], [512, 9, 64, 5]);
  assert.deepEqual([other.flat, other.ageMs, other.verdict], [2, null, "none"]);
});

test("what breaks the contract is refused, never half read", () => {
  const broken: [string, ArrayBuffer][] = [
    ["too short", bytes(3, 0, 0)],
    ["unknown kind", bytes(9, 0, 0, 0, 0, 0, 0, 0)],
    ["layout of a later version", bytes(1, 2, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)],
    ["layout with fewer places than pixels", bytes(1, 1, 0, 0, 0, 0, 0, 0, 4, 0, 0, 0, 2, 0, 0, 0, ...text("{}  "), 0, 0, 0, 0)],
    ["levels that end inside a pixel", bytes(2, 0, 4, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 2, 3)],
    ["levels of two colours", bytes(2, 0, 2, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 2)],
    ["levels without a head", bytes(2, 0, 0, 0, 0, 0, 0, 0)],
    ["slots of fewer universes than it says", bytes(5, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1)],
    ["slots with an unknown verdict", bytes(5, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 9, ...Array(579).fill(0))],
    ["state that is no JSON", bytes(3, 0, 0, 0, 0, 0, 0, 0, ...text("{"))],
  ];
  for (const [what, buffer] of broken) assert.throws(() => decode(buffer), DecodeError, what);
});

test("an id is read", () => {
  assert.deepEqual(decode(Uint8Array.from([4, 0, 0, 0, 97, 98, 99, 49, 50]).buffer), { kind: "id", id: "abc12" });
});
