import type { Floor } from "../../api/types";
import { parsePosition, type Viewport } from "../../lib/geometry";

export interface Where {
  vp: Viewport;
  width: number;
  height: number;
  /** Device pixels a CSS pixel. */
  ratio: number;
}

/** A rectangle of the floor on the screen, on whole device pixels. */
export function onScreen(vp: Viewport, x_mm: number, y_mm: number, w_mm: number, h_mm: number) {
  const x = Math.round(x_mm * vp.scale + vp.tx);
  const y = Math.round(y_mm * vp.scale + vp.ty);
  return {
    x,
    y,
    w: Math.round((x_mm + w_mm) * vp.scale + vp.tx) - x,
    h: Math.round((y_mm + h_mm) * vp.scale + vp.ty) - y,
  };
}

/** Panels as plates, empty places hatched. */
export function drawBase(canvas: HTMLCanvasElement, floor: Floor, where: Where, styles: CSSStyleDeclaration): void {
  const ctx = canvas.getContext("2d");
  if (!ctx) return;
  const { vp, width, height, ratio } = where;
  const colour = (name: string) => styles.getPropertyValue(name).trim();
  ctx.clearRect(0, 0, width, height);
  ctx.lineWidth = ratio;

  const [wide, high] = floor.grid.panel_mm;
  ctx.strokeStyle = colour("--stage-hatch");
  for (const name of floor.grid.empty) {
    const place = parsePosition(name);
    if (!place) continue;
    const x_mm = place.column * (wide + floor.grid.gap_mm);
    const y_mm = place.row * (high + floor.grid.gap_mm);
    const place_px = onScreen(vp, x_mm, y_mm, wide, high);
    hatch(ctx, place_px, 7 * ratio, "rising");
    ctx.strokeRect(place_px.x + ratio / 2, place_px.y + ratio / 2, place_px.w - ratio, place_px.h - ratio);
  }

  ctx.fillStyle = colour("--stage-panel");
  ctx.strokeStyle = colour("--stage-line");
  for (const panel of floor.panels) {
    const { x, y, w, h } = onScreen(vp, panel.x_mm, panel.y_mm, panel.width_mm, panel.height_mm);
    if (x > width || y > height || x + w < 0 || y + h < 0) continue;
    ctx.fillRect(x, y, w, h);
    if (w > 8 * ratio) ctx.strokeRect(x + ratio / 2, y + ratio / 2, w - ratio, h - ratio);
  }
}

/** Slanting lines across a rectangle, in the context's own stroke. */
export function hatch(
  ctx: CanvasRenderingContext2D,
  { x, y, w, h }: ReturnType<typeof onScreen>,
  step: number,
  way: "rising" | "falling",
): void {
  ctx.save();
  ctx.beginPath();
  ctx.rect(x, y, w, h);
  ctx.clip();
  ctx.beginPath();
  for (let d = -h; d < w; d += step) {
    ctx.moveTo(x + d, way === "rising" ? y + h : y);
    ctx.lineTo(x + d + h, way === "rising" ? y : y + h);
  }
  ctx.stroke();
  ctx.restore();
}
