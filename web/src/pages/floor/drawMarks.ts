import type { Floor, PanelInfo, PanelState } from "../../api/types";
import { columnName, parsePosition } from "../../lib/geometry";
import { percent } from "../../lib/format";
import { hatch, onScreen, type Where } from "./drawBase";

export interface Marks {
  labels: boolean;
  selected: string | null;
  panels: readonly PanelState[];
  /** Nodes of which nobody knows what they show. */
  silent: ReadonlySet<string>;
  /** Panels that lose light for want of voltage. */
  starving: ReadonlySet<string>;
}

/** Names of places, the cap's corners, the chosen panel. */
export function drawMarks(
  canvas: HTMLCanvasElement,
  floor: Floor,
  where: Where,
  marks: Marks,
  styles: CSSStyleDeclaration,
): void {
  const ctx = canvas.getContext("2d");
  if (!ctx) return;
  const { width, height, ratio } = where;
  ctx.clearRect(0, 0, width, height);
  const colour = (name: string) => styles.getPropertyValue(`--stage-${name}`).trim();
  // The cap's colour always comes with its shape and, where there is room, its number.
  const cap = colour("cap");
  const text = colour("text");
  const font = (px: number, weight = 600) => `${weight} ${px * ratio}px ${styles.fontFamily}`;
  const feet = new Set(marks.panels.filter((p) => p.pressed.length > 0).map((p) => p.position));
  const scales = new Map(marks.panels.map((p) => [p.position, p.scale]));
  ctx.textBaseline = "middle";

  for (const panel of floor.panels) {
    const box = boxOf(panel, where);
    if (box.x > width || box.y > height || box.x + box.w < 0 || box.y + box.h < 0) continue;
    if (panel.node !== null && marks.silent.has(panel.node)) unknown(ctx, box, colour("silent"), ratio);
    const room = Math.min(box.w, box.h) / ratio;
    const scale = scales.get(panel.position) ?? 1;
    const words = [
      ...(marks.labels && room >= 26 ? [{ text: panel.position, ink: text }] : []),
      ...(scale < 1 && room >= 48 ? [{ text: percent(scale), ink: cap }] : []),
    ];
    ctx.font = font(room >= 64 ? 13 : 11);
    inMiddle(ctx, box, words, colour("edge"), (room >= 64 ? 18 : 15) * ratio, ratio);
    if (scale < 1) corner(ctx, box, cap, ratio);
    if (feet.has(panel.position)) pressed(ctx, box, text, colour("edge"), ratio);
    if (marks.starving.has(panel.position)) sagging(ctx, box, colour("silent"), ratio);
  }
  if (marks.labels) {
    ctx.font = font(11, 400);
    ctx.textAlign = "center";
    empties(ctx, floor, where, colour("quiet"));
  }
  rulers(ctx, floor, where, colour("ink"), colour("plate"), font(11, 400));

  const chosen = floor.panels.find((p) => p.position === marks.selected);
  if (chosen) {
    const { x, y, w, h } = boxOf(chosen, where);
    ctx.strokeStyle = styles.getPropertyValue("--stage").trim();
    ctx.lineWidth = 6 * ratio;
    ctx.strokeRect(x, y, w, h);
    ctx.strokeStyle = colour("chosen");
    ctx.lineWidth = 2.5 * ratio;
    ctx.strokeRect(x, y, w, h);
  }
}

function boxOf(panel: PanelInfo, where: Where) {
  return onScreen(where.vp, panel.x_mm, panel.y_mm, panel.width_mm, panel.height_mm);
}

type Box = ReturnType<typeof boxOf>;

/** Words under each other in the middle of a panel, with a dark edge that hides as few pixels as can be. */
function inMiddle(
  ctx: CanvasRenderingContext2D,
  box: Box,
  words: { text: string; ink: string }[],
  edge: string,
  line: number,
  ratio: number,
): void {
  ctx.textAlign = "center";
  ctx.lineJoin = "round";
  ctx.lineWidth = 6 * ratio;
  ctx.strokeStyle = edge;
  const x = box.x + box.w / 2;
  const top = box.y + (box.h - words.length * line) / 2;
  for (const [i, { text, ink }] of words.entries()) {
    const y = top + (i + 0.5) * line + ratio / 2;
    ctx.strokeText(text, x, y);
    ctx.fillStyle = ink;
    ctx.fillText(text, x, y);
  }
}

/** Hatched the other way than empty places: what this panel shows is not known. */
function unknown(ctx: CanvasRenderingContext2D, box: Box, ink: string, ratio: number): void {
  ctx.strokeStyle = ink;
  ctx.lineWidth = ratio;
  hatch(ctx, box, 8 * ratio, "falling");
}

/** A small triangle: small enough to leave the pixels in sight. */
function corner(ctx: CanvasRenderingContext2D, box: Box, ink: string, ratio: number): void {
  const size = Math.min(11 * ratio, box.w / 4);
  const x = box.x + box.w;
  const y = box.y + box.h;
  ctx.fillStyle = ink;
  ctx.beginPath();
  ctx.moveTo(x, y);
  ctx.lineTo(x - size, y);
  ctx.lineTo(x, y - size);
  ctx.closePath();
  ctx.fill();
}

/** A line that sags, along the lower edge: voltage is lost on the way here. */
function sagging(ctx: CanvasRenderingContext2D, box: Box, ink: string, ratio: number): void {
  const size = Math.min(12 * ratio, box.w / 3);
  const x = box.x + 2 * ratio;
  const y = box.y + box.h - 3 * ratio;
  ctx.strokeStyle = ink;
  ctx.lineWidth = 2 * ratio;
  ctx.beginPath();
  ctx.moveTo(x, y - size * 0.6);
  ctx.quadraticCurveTo(x + size * 0.3, y, x + size, y);
  ctx.stroke();
}

/** A second outline inside the first, broken at its corners: somebody stands here. */
function pressed(ctx: CanvasRenderingContext2D, box: Box, ink: string, edge: string, ratio: number): void {
  const inset = 3 * ratio;
  const w = box.w - 2 * inset;
  const h = box.h - 2 * inset;
  if (w <= 0 || h <= 0) return;
  const side = Math.min(w, h) / 4;
  ctx.save();
  ctx.beginPath();
  for (const [x, y, dx, dy] of [
    [box.x + inset, box.y + inset, 1, 1],
    [box.x + inset + w, box.y + inset, -1, 1],
    [box.x + inset + w, box.y + inset + h, -1, -1],
    [box.x + inset, box.y + inset + h, 1, -1],
  ] as const) {
    ctx.moveTo(x + dx * side, y);
    ctx.lineTo(x, y);
    ctx.lineTo(x, y + dy * side);
  }
  ctx.strokeStyle = edge;
  ctx.lineWidth = 4 * ratio;
  ctx.stroke();
  ctx.strokeStyle = ink;
  ctx.lineWidth = 1.5 * ratio;
  ctx.stroke();
  ctx.restore();
}

function empties(ctx: CanvasRenderingContext2D, floor: Floor, where: Where, ink: string): void {
  const { vp, ratio } = where;
  const [wide, high] = floor.grid.panel_mm;
  for (const name of floor.grid.empty) {
    const place = parsePosition(name);
    if (!place) continue;
    const gap = floor.grid.gap_mm;
    const { x, y, w, h } = onScreen(vp, place.column * (wide + gap), place.row * (high + gap), wide, high);
    if (w < 50 * ratio || h < 20 * ratio) continue;
    ctx.fillStyle = ink;
    ctx.fillText("empty", x + w / 2, y + h / 2);
  }
}

/** Letters above and numbers beside the floor; they stay in sight when the plan is zoomed in. */
function rulers(
  ctx: CanvasRenderingContext2D,
  floor: Floor,
  where: Where,
  ink: string,
  plate: string,
  font: string,
): void {
  const { vp, width, height, ratio } = where;
  const [wide, high] = floor.grid.panel_mm;
  const top = Math.max(11 * ratio, vp.ty - 12 * ratio);
  const left = Math.max(13 * ratio, vp.tx - 14 * ratio);
  const text = (word: string, x: number, y: number) => {
    const w = ctx.measureText(word).width + 6 * ratio;
    ctx.fillStyle = plate;
    ctx.fillRect(x - w / 2, y - 9 * ratio, w, 18 * ratio);
    ctx.fillStyle = ink;
    ctx.fillText(word, x, y);
  };
  ctx.font = font;
  ctx.textAlign = "center";
  const every = (size_mm: number) => Math.max(1, Math.ceil((22 * ratio) / (size_mm * vp.scale)));
  const columns = every(wide + floor.grid.gap_mm);
  for (let c = 0; c < floor.grid.columns; c += columns) {
    const x = (c * (wide + floor.grid.gap_mm) + wide / 2) * vp.scale + vp.tx;
    if (x > 24 * ratio && x < width) text(columnName(c), x, top);
  }
  const rows = every(high + floor.grid.gap_mm);
  for (let r = 0; r < floor.grid.rows; r += rows) {
    const y = (r * (high + floor.grid.gap_mm) + high / 2) * vp.scale + vp.ty;
    if (y > 20 * ratio && y < height) text(String(r + 1), left, y);
  }
}
