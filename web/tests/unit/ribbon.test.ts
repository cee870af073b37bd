import assert from "node:assert/strict";
import { test } from "node:test";
import { cellOf, pieces, ribbonHeight, ribbonShape, slotAt } from "../../src/lib/ribbon";

test("every slot has a cell of its own, inside, and is found there", () => {
  for (const width of [280, 326, 640, 838, 1400]) {
    const shape = ribbonShape(width, 512);
    assert.ok(shape.columns * shape.rows >= 512 && shape.cell >= 8.5, `${width}: ${JSON.stringify(shape)}`);
    for (let slot = 1; slot <= 512; slot++) {
      const { x, y } = cellOf(shape, slot);
      assert.equal(slotAt(shape, x + shape.cell / 2, y + shape.bars / 2), slot);
      assert.ok(x + shape.cell <= width && y + shape.bars <= ribbonHeight(shape), `${width}, slot ${slot}`);
    }
    assert.equal(slotAt(shape, 1, 20), null);
    assert.equal(slotAt(shape, 100, ribbonHeight(shape) + 1), null);
  }
});

test("a short universe has few rows", () => {
  assert.equal(ribbonShape(330, 24).rows, 1);
  assert.equal(ribbonShape(330, 512).rows, 16);
});

test("a range is cut at the ends of rows, and loses no slot", () => {
  const shape = ribbonShape(330, 512);
  assert.equal(shape.columns, 32);
  assert.deepEqual(pieces(shape, 30, 70), [{ first: 30, last: 32 }, { first: 33, last: 64 }, { first: 65, last: 70 }]);
  assert.deepEqual(pieces(shape, 33, 33), [{ first: 33, last: 33 }]);
});
