/** Draws one universe: a cell a slot, bars for levels, the panels' names above. */
import type { UniverseSlots } from "../../api/decode";
import type { SlotRange, Stretch } from "../../lib/patch";
import { cellOf, pieces, ribbonHeight, type RibbonShape } from "../../lib/ribbon";

export interface RibbonMarks {
  /** Slots of the pixel that is pointed at. */
  pixel: readonly SlotRange[];
  /** Slots of its panel. */
  panel: readonly SlotRange[];
  /** The slot itself. */
  slot: number | null;
}

const isMoving = (bits: Uint8Array, slot: number) => ((bits[(slot - 1) >> 3] ?? 0) >> ((slot - 1) & 7)) & 1;

export function drawRibbon(
  canvas: HTMLCanvasElement,
  shape: RibbonShape,
  stretches: readonly Stretch[],
  now: UniverseSlots | undefined,
  marks: RibbonMarks,
): void {
  const ctx = canvas.getContext("2d");
  if (!ctx) return;
  const styles = getComputedStyle(canvas);
  const colour = (name: string) => styles.getPropertyValue(name).trim();
  const width = canvas.clientWidth;
  const ratio = canvas.width / Math.max(1, width);
  ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
  ctx.clearRect(0, 0, width, ribbonHeight(shape));
  const { columns, rows, cell, bars } = shape;
  ctx.font = `11px ${styles.fontFamily}`;
  ctx.textBaseline = "alphabetic";

  // Ground and row numbers.
  for (let row = 0; row < rows; row++) {
    const first = row * columns + 1;
    const { x, y } = cellOf(shape, first);
    ctx.fillStyle = colour("--raised");
    ctx.fillRect(x, y, cell * Math.min(columns, 512 - first + 1), bars);
    ctx.fillStyle = colour("--muted");
    ctx.textAlign = "right";
    ctx.fillText(String(first), x - 5, y + bars - 4);
  }

  // Panels: alternating ground, an outline of their own, their name above.
  ctx.textAlign = "left";
  let taken = { row: -1, until: 0 };
  stretches.forEach((stretch, i) => {
    for (const piece of pieces(shape, stretch.first_slot, stretch.last_slot)) {
      const row = Math.floor((piece.first - 1) / columns);
      if (row >= rows) break;
      const { x, y } = cellOf(shape, piece.first);
      const wide = (piece.last - piece.first + 1) * cell;
      ctx.fillStyle = colour(i % 2 === 0 ? "--band" : "--band-other");
      ctx.fillRect(x, y, wide, bars);
      ctx.strokeStyle = colour("--line-strong");
      ctx.lineWidth = 1;
      ctx.strokeRect(x + 0.5, y + 0.5, wide - 1, bars - 1);
      const name = stretch.panel.position;
      const free = taken.row === row ? taken.until : 0;
      const from = Math.max(x + 1, free);
      if (ctx.measureText(name).width > x + wide - from) continue;
      ctx.fillStyle = colour("--ink");
      ctx.fillText(name, from, y - 3);
      taken = { row, until: from + ctx.measureText(name).width + 3 };
    }
  });

  const length = now?.length ?? 0;
  const still = colour("--still");
  const moving = colour("--accent");
  const cap = colour("--ink-strong");
  const bar = Math.max(1, cell - 2);
  for (let slot = 1; slot <= Math.min(512, columns * rows); slot++) {
    const { x, y } = cellOf(shape, slot);
    if (slot > length) continue;
    const level = now?.levels[slot - 1] ?? 0;
    const moves = now ? isMoving(now.moving, slot) : 0;
    const high = level === 0 ? 0 : Math.max(2, Math.round((level / 255) * (bars - 3)));
    ctx.fillStyle = moves ? moving : still;
    ctx.fillRect(x + 1, y + bars - 1 - high, bar, high);
    // Movement is told by a cap on the bar too, not by colour alone.
    if (moves) {
      ctx.fillStyle = cap;
      ctx.fillRect(x + 1, y + bars - 1 - Math.max(2, high), bar, 2);
    }
  }
  // Before anything is known of it, nothing is said to be missing.
  if (now) hatchFrom(ctx, shape, length, colour("--line-strong"));

  ctx.lineWidth = 2;
  const outline = (ranges: readonly SlotRange[], style: string, out: number) => {
    ctx.strokeStyle = style;
    for (const range of ranges) {
      for (const piece of pieces(shape, range.first_slot, range.last_slot)) {
        if (Math.floor((piece.first - 1) / columns) >= rows) break;
        const { x, y } = cellOf(shape, piece.first);
        ctx.strokeRect(x - out, y - out, (piece.last - piece.first + 1) * cell + 2 * out, bars + 2 * out);
      }
    }
  };
  outline(marks.panel, colour("--asked"), 0);
  ctx.lineWidth = 2.5;
  outline(marks.pixel, colour("--mark"), 1.5);
  if (marks.slot !== null && marks.pixel.length === 0) {
    outline([{ flat: 0, first_slot: marks.slot, last_slot: marks.slot }], colour("--mark"), 1.5);
  }
}

/** Slots that the frame does not reach. */
function hatchFrom(ctx: CanvasRenderingContext2D, shape: RibbonShape, length: number, style: string): void {
  const last = Math.min(512, shape.columns * shape.rows);
  if (length >= last) return;
  ctx.save();
  ctx.beginPath();
  for (const piece of pieces(shape, length + 1, last)) {
    const { x, y } = cellOf(shape, piece.first);
    ctx.rect(x, y, (piece.last - piece.first + 1) * shape.cell, shape.bars);
  }
  ctx.clip();
  ctx.beginPath();
  const wide = shape.gutter + shape.columns * shape.cell;
  const high = ribbonHeight(shape);
  for (let d = -high; d < wide; d += 6) {
    ctx.moveTo(d, high);
    ctx.lineTo(d + high, 0);
  }
  ctx.strokeStyle = style;
  ctx.lineWidth = 1;
  ctx.stroke();
  ctx.restore();
}
