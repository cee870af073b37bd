/** The inspector's little picture: one cell a pixel, its upper half as asked, its lower half as sent. */
import type { PanelInfo } from "../../api/types";

interface Grid {
  columns: number;
  rows: number;
  cell_px: number;
}

const CELL_HIGH = 22;
const GAP = 5;
const EDGE = 5;

export function gridOf(pixels: number, width: number): Grid {
  const columns = Math.max(1, Math.min(pixels, Math.floor((width - 2 * EDGE) / 15)));
  return { columns, rows: Math.ceil(pixels / columns), cell_px: (width - 2 * EDGE) / columns };
}

/** The pixel under a point, or nothing. */
export function cellAt(grid: Grid, x: number, y: number): number | null {
  const column = Math.floor((x - EDGE) / grid.cell_px);
  const row = Math.floor((y - EDGE) / (CELL_HIGH + GAP));
  if (column < 0 || row < 0 || column >= grid.columns || row >= grid.rows) return null;
  return row * grid.columns + column;
}

/** The segment, from 0, that a pixel of a panel belongs to. */
export function segmentOf(segments: readonly number[], pixel: number): number {
  let end = 0;
  for (const [i, size] of segments.entries()) {
    end += size;
    if (pixel < end) return i;
  }
  return Math.max(0, segments.length - 1);
}

/** CSS colour of a pixel of the panel. */
type CellColour = (pixel: number) => string;

export function drawLevels(
  canvas: HTMLCanvasElement,
  panel: PanelInfo,
  grid: Grid,
  asked: CellColour | null,
  sent: CellColour | null,
  chosen: number,
): void {
  const ctx = canvas.getContext("2d");
  if (!ctx) return;
  const styles = getComputedStyle(canvas);
  const [missing, joint, mark] = ["missing", "ink", "chosen"].map((name) =>
    styles.getPropertyValue(`--stage-${name}`).trim(),
  ) as [string, string, string];
  const ratio = window.devicePixelRatio || 1;
  const width = grid.columns * grid.cell_px + 2 * EDGE;
  const height = grid.rows * (CELL_HIGH + GAP) - GAP + 2 * EDGE;
  canvas.width = Math.round(width * ratio);
  canvas.height = Math.round(height * ratio);
  canvas.style.width = `${width}px`;
  canvas.style.height = `${height}px`;
  ctx.scale(ratio, ratio);
  for (let i = 0; i < panel.pixels; i++) {
    const x = EDGE + (i % grid.columns) * grid.cell_px;
    const y = EDGE + Math.floor(i / grid.columns) * (CELL_HIGH + GAP);
    const first = i > 0 && segmentOf(panel.segments, i) !== segmentOf(panel.segments, i - 1);
    ctx.fillStyle = asked ? asked(i) : missing;
    ctx.fillRect(x, y, grid.cell_px - 2, CELL_HIGH / 2 - 1);
    ctx.fillStyle = sent ? sent(i) : missing;
    ctx.fillRect(x, y + CELL_HIGH / 2, grid.cell_px - 2, CELL_HIGH / 2);
    if (first) {
      // A joint: where one segment ends and the next begins.
      ctx.fillStyle = joint;
      ctx.fillRect(x - 1.5, y - 2, 1, CELL_HIGH + 4);
    }
    if (i === chosen) {
      ctx.strokeStyle = mark;
      ctx.lineWidth = 2;
      ctx.strokeRect(x - 2, y - 2, grid.cell_px + 2, CELL_HIGH + 4);
    }
  }
}
