import assert from "node:assert/strict";
import { test } from "node:test";
import { decode, DecodeError } from "../../src/api/decode";
import { Pictures } from "../../src/api/pictures";

const bytes = (...values: number[]) => Uint8Array.from(values).buffer;

/** Three pixels, and a change of the last as `messages.rs` lays it out. */
const WHOLE = [2, 0, 3, 0, 5, 0, 0, 0, 9, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 2, 2, 2, 3, 3, 3];
const CHANGE = [7, 0, 3, 0, 5, 0, 0, 0, 10, 0, 0, 0, 2, 1, 0, 0, 9, 0, 0, 0, 2, 0, 1, 0, 7, 8, 9];

function levelsOf(pictures: Pictures, message: number[]) {
  const whole = pictures.whole(decode(bytes(...message)));
  assert.ok(whole.kind === "levels");
  return whole;
}

/** Of a page that has the whole picture. */
const moved = () => {
  const pictures = new Pictures();
  levelsOf(pictures, WHOLE);
  return pictures;
};

test("a change makes a new picture of the one before", () => {
  const pictures = new Pictures();
  const first = levelsOf(pictures, WHOLE);
  const second = levelsOf(pictures, CHANGE);
  assert.deepEqual([...second.levels], [1, 1, 1, 2, 2, 2, 7, 8, 9]);
  assert.deepEqual([second.frame, second.uptimeMs, second.revision, second.view], [10, 258, 5, "sent"]);
  assert.deepEqual([...first.levels], [1, 1, 1, 2, 2, 2, 3, 3, 3], "the one before stays");
  // Nothing changed but the time.
  const third = levelsOf(pictures, [...CHANGE.slice(0, 8), 11, 0, 0, 0, 3, 1, 0, 0, 10, 0, 0, 0]);
  assert.deepEqual([...third.levels], [...second.levels]);
  // By how far each level moved: up, down, round the end, not at all; and one that moved further.
  const near = levelsOf(moved(), [...CHANGE.slice(0, 20), 1, 0, 2, 0x80, 0x5c, 0x98, 0xa0, 99]);
  assert.deepEqual([...near.levels], [1, 1, 1, 6, 255, 2, 4, 99, 5]);
  // Two runs, one of them empty, as it stands after a long way without a change.
  const fourth = levelsOf(pictures, [...CHANGE.slice(0, 8), 12, 0, 0, 0, 3, 1, 0, 0, 11, 0, 0, 0, 1, 0, 0, 0, 0, 0, 1, 0, 6, 6, 6]);
  assert.deepEqual([...fourth.levels], [1, 1, 1, 6, 6, 6, 7, 8, 9]);
});

test("a change of what this page has not is refused", () => {
  assert.throws(() => levelsOf(new Pictures(), CHANGE), DecodeError);
  const asked = [...CHANGE];
  asked[1] = 1;
  const otherFrame = [...CHANGE];
  otherFrame[16] = 8;
  const otherFloor = [...CHANGE];
  otherFloor[4] = 6;
  const white = [...CHANGE];
  white[2] = 4;
  const tooFar = [...CHANGE];
  tooFar[20] = 3;
  const near = [...CHANGE.slice(0, 20), 1, 0, 2, 0x80, 0x5c, 0x98, 0xa0, 99];
  for (const wrong of [asked, otherFrame, otherFloor, white, tooFar, CHANGE.slice(0, -1), CHANGE.slice(0, 22), near.slice(0, -1), near.slice(0, -2), CHANGE.slice(0, 18)]) {
    const pictures = new Pictures();
    levelsOf(pictures, WHOLE);
    assert.throws(() => levelsOf(pictures, wrong), DecodeError, String(wrong));
  }
  const pictures = new Pictures();
  levelsOf(pictures, WHOLE);
  pictures.whole({ kind: "layout", revision: 5, floor: {} as never, xyMm: new Float32Array() });
  assert.throws(() => levelsOf(pictures, CHANGE), DecodeError, "a new floor");
});
