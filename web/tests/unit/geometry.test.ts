import assert from "node:assert/strict";
import { test } from "node:test";
import type { PanelInfo } from "../../src/api/types";
import * as geometry from "../../src/lib/geometry";

const panel = (position: string, x_mm: number, y_mm: number) =>
  ({ position, x_mm, y_mm, width_mm: 400, height_mm: 400 }) as PanelInfo;

const all = (n: number) => Uint32Array.from({ length: n }, (_, i) => i);

test("fitting keeps the shape, the margin and the middle", () => {
  // 1000 × 500 mm into 220 × 220 with 10 around it: 200 / 1000 = 0.2 pixels a mm, 100 high, in the middle.
  const vp = geometry.fit({ width_mm: 1000, height_mm: 500 }, 220, 220, 10);
  assert.deepEqual(vp, { scale: 0.2, tx: 10, ty: 60 });
});

test("zooming leaves the point under the finger where it is", () => {
  const before = { scale: 0.2, tx: 10, ty: 60 };
  const after = geometry.zoomAt(before, 2, 110, 80, 0.1, 10);
  const floorPoint = (vp: geometry.Viewport) => [(110 - vp.tx) / vp.scale, (80 - vp.ty) / vp.scale];
  assert.equal(after.scale, 0.4);
  assert.deepEqual(floorPoint(after), floorPoint(before));
  assert.equal(geometry.zoomAt(before, 1000, 0, 0, 0.1, 10).scale, 10, "no further than the limit");
});

test("the floor can't be pushed off the screen", () => {
  const vp = geometry.hold({ scale: 1, tx: -5000, ty: 9000 }, { width_mm: 1000, height_mm: 1000 }, 100, 100);
  assert.ok(vp.tx + 1000 > 0 && vp.ty < 100);
});

test("offsets are those of each dot's corner in the padded image", () => {
  // Scale 1, dots of 2: the centre (10, 5) has its corner at (9, 4), in the image that is 2 wider at (11, 6).
  const xy = Float32Array.from([10, 5, 0, 0, 500, 5, 10, -50]);
  const { pixel, at } = geometry.pixelOffsets(xy, all(4), { scale: 1, tx: 0, ty: 0 }, 100, 50, 2, 2);
  assert.deepEqual([...pixel], [0, 1], "pixels out of sight are left out");
  assert.deepEqual([...at], [6 * 104 + 11, 1 * 104 + 1]);
});

test("no dot is ever written outside the image", () => {
  const xy = Float32Array.from({ length: 4000 }, (_, i) => ((i * 7919) % 3000) - 1000);
  for (const [dot, pad] of [[1, 1], [2, 9], [7, 7], [64, 64]] as const) {
    const { at } = geometry.pixelOffsets(xy, all(2000), { scale: 0.37, tx: 13, ty: -40 }, 200, 120, dot, pad);
    const stride = 200 + 2 * pad;
    for (const corner of at) {
      assert.ok((corner % stride) + dot <= stride);
      assert.ok(Math.floor(corner / stride) + dot <= 120 + 2 * pad);
    }
  }
});

test("the pitch is the shortest way between neighbours of one panel", () => {
  // 3-4-5 triangle: 50 mm; the two panels' border pixels are 1 mm apart and don't count.
  const xy = Float32Array.from([0, 0, 30, 40, 31, 40, 131, 40]);
  const panels = [
    { first_pixel: 0, pixels: 2 },
    { first_pixel: 2, pixels: 2 },
  ];
  assert.equal(geometry.pitchMm(xy, panels), 50);
  assert.deepEqual(
    geometry.pitchGroups(xy, panels).map((g) => [g.pitch_mm, ...g.pixels]),
    [[50, 0, 1], [100, 2, 3]],
  );
});

test("a point hits the panel it lies in, and an edge belongs to one panel only", () => {
  const panels = [panel("A1", 0, 0), panel("B1", 400, 0)];
  assert.equal(geometry.hitTest(panels, 399.9, 10), 0);
  assert.equal(geometry.hitTest(panels, 400, 10), 1);
  assert.equal(geometry.hitTest(panels, 800, 10), -1);
  assert.equal(geometry.hitTest(panels, 10, -1), -1);
});

test("positions are lettered like spreadsheet columns", () => {
  assert.deepEqual(geometry.parsePosition("C4"), { column: 2, row: 3 });
  assert.deepEqual(geometry.parsePosition("AA10"), { column: 26, row: 9 });
  for (const wrong of ["", "4", "C", "C0", "c4", "C-1"]) assert.equal(geometry.parsePosition(wrong), null, wrong);
  for (const [column, name] of [[0, "A"], [25, "Z"], [26, "AA"], [701, "ZZ"], [702, "AAA"]] as const) {
    assert.equal(geometry.columnName(column), name);
    assert.equal(geometry.parsePosition(`${name}1`)?.column, column);
  }
});

test("arrow keys step over holes and stop at the edge", () => {
  const positions = ["A1", "B1", "D1", "A2", "C2"];
  assert.equal(geometry.neighbour(positions, "B1", "right"), "D1");
  assert.equal(geometry.neighbour(positions, "D1", "right"), null);
  assert.equal(geometry.neighbour(positions, "D1", "left"), "B1");
  assert.equal(geometry.neighbour(positions, "A1", "down"), "A2");
  assert.equal(geometry.neighbour(positions, "B1", "down"), "A2", "nearest where nothing lies straight below");
});
