/** Where the cells of a ribbon of slots lie, in CSS pixels. */

export interface RibbonShape {
  columns: number;
  rows: number;
  /** Width of one cell. */
  cell: number;
  /** Room at the left for the number of each row's first slot. */
  gutter: number;
  /** Height of the names above the cells, and of the cells. */
  names: number;
  bars: number;
  /** From one row to the next. */
  step: number;
}

const GUTTER = 30;
const NAMES = 13;
const BARS = 16;
const GAP = 3;
/** A finger or a pointer can still tell neighbours apart. */
const LEAST_CELL = 8.5;
const LARGEST_CELL = 22;

/** As many columns as fit, of a number that people can count with; only as many rows as `slots` need. */
export function ribbonShape(width: number, slots: number): RibbonShape {
  const room = Math.max(1, width - GUTTER - 1);
  const columns = [128, 64, 32, 16].find((n) => room / n >= LEAST_CELL) ?? 8;
  return {
    columns,
    rows: Math.max(1, Math.ceil(slots / columns)),
    cell: Math.min(LARGEST_CELL, room / columns),
    gutter: GUTTER,
    names: NAMES,
    bars: BARS,
    step: NAMES + BARS + GAP,
  };
}

export function ribbonHeight(shape: RibbonShape): number {
  return shape.rows * shape.step;
}

/** The slot under a point, counted from 1; nothing beside the cells. */
export function slotAt(shape: RibbonShape, x: number, y: number): number | null {
  const column = Math.floor((x - shape.gutter) / shape.cell);
  const row = Math.floor(y / shape.step);
  if (column < 0 || column >= shape.columns || row < 0 || row >= shape.rows) return null;
  const slot = row * shape.columns + column + 1;
  return slot <= 512 ? slot : null;
}

/** Upper left corner of a slot's cell. */
export function cellOf(shape: RibbonShape, slot: number): { x: number; y: number } {
  const row = Math.floor((slot - 1) / shape.columns);
  return { x: shape.gutter + ((slot - 1) % shape.columns) * shape.cell, y: row * shape.step + shape.names };
}

/** The pieces of a range of slots, one a row. */
export function pieces(shape: RibbonShape, first: number, last: number): { first: number; last: number }[] {
  const found: { first: number; last: number }[] = [];
  for (let from = first; from <= last; ) {
    const end = Math.min(last, Math.ceil(from / shape.columns) * shape.columns);
    found.push({ first: from, last: end });
    from = end + 1;
  }
  return found;
}
