/** From millimetres on the floor to pixels on the screen and back. */
import type { PanelInfo } from "../api/types";

/** `screen = mm * scale + t`, in device pixels. */
export interface Viewport {
  scale: number;
  tx: number;
  ty: number;
}

interface Extent {
  width_mm: number;
  height_mm: number;
}

/** Everything in sight, with `margin` device pixels around it. */
export function fit(extent: Extent, width: number, height: number, margin: number): Viewport {
  const wide = Math.max(1, width - 2 * margin) / Math.max(1, extent.width_mm);
  const high = Math.max(1, height - 2 * margin) / Math.max(1, extent.height_mm);
  const scale = Math.min(wide, high);
  return {
    scale,
    tx: (width - extent.width_mm * scale) / 2,
    ty: (height - extent.height_mm * scale) / 2,
  };
}

/** Zooms by `factor` so that what lies under (x, y) stays there; scale stays within the limits. */
export function zoomAt(vp: Viewport, factor: number, x: number, y: number, least: number, most: number): Viewport {
  const scale = Math.min(most, Math.max(least, vp.scale * factor));
  const real = scale / vp.scale;
  return { scale, tx: x - (x - vp.tx) * real, ty: y - (y - vp.ty) * real };
}

/** Keeps at least part of the floor on the screen. */
export function hold(vp: Viewport, extent: Extent, width: number, height: number): Viewport {
  const keep = (t: number, size: number, room: number) => Math.min(room * 0.8, Math.max(room * 0.2 - size, t));
  return {
    scale: vp.scale,
    tx: keep(vp.tx, extent.width_mm * vp.scale, width),
    ty: keep(vp.ty, extent.height_mm * vp.scale, height),
  };
}

/** Shortest way between pixels that follow each other in a panel: how large a dot may be, in mm. */
export function pitchMm(xyMm: Float32Array, panels: readonly Pick<PanelInfo, "first_pixel" | "pixels">[]): number {
  let least = Infinity;
  for (const panel of panels) {
    for (let i = panel.first_pixel + 1; i < panel.first_pixel + panel.pixels; i++) {
      const dx = xyMm[2 * i]! - xyMm[2 * i - 2]!;
      const dy = xyMm[2 * i + 1]! - xyMm[2 * i - 1]!;
      const d = Math.hypot(dx, dy);
      if (d > 0.01 && d < least) least = d;
    }
  }
  return Number.isFinite(least) ? least : 50;
}

export interface PitchGroup {
  pitch_mm: number;
  /** Pixels of all panels with this pitch. */
  pixels: Uint32Array;
}

/** Pixels by their panel's pitch: a dense strip must not make the dots of a wide grid tiny. */
export function pitchGroups(
  xyMm: Float32Array,
  panels: readonly Pick<PanelInfo, "first_pixel" | "pixels">[],
): PitchGroup[] {
  const groups = new Map<number, number[]>();
  for (const panel of panels) {
    const pitch_mm = Math.max(1, Math.round(pitchMm(xyMm, [panel])));
    const pixels = groups.get(pitch_mm) ?? [];
    groups.set(pitch_mm, pixels);
    for (let i = 0; i < panel.pixels; i++) pixels.push(panel.first_pixel + i);
  }
  return [...groups].map(([pitch_mm, pixels]) => ({ pitch_mm, pixels: Uint32Array.from(pixels) }));
}

/** Size of a dot in device pixels. */
export function dotSize(pitch_mm: number, scale: number): number {
  return Math.max(1, Math.min(64, Math.round(pitch_mm * scale * 0.66)));
}

export interface Offsets {
  /** Pixels that are in sight. */
  pixel: Uint32Array;
  /** Index of each one's dot's upper left corner in an image that is `pad` larger on every side. */
  at: Uint32Array;
}

/** Where every visible pixel's dot begins; worked out once a viewport, not once a frame. */
export function pixelOffsets(
  xyMm: Float32Array,
  pixels: Uint32Array,
  vp: Viewport,
  width: number,
  height: number,
  dot: number,
  pad: number,
): Offsets {
  const pixel = new Uint32Array(pixels.length);
  const at = new Uint32Array(pixels.length);
  const stride = width + 2 * pad;
  let n = 0;
  for (const i of pixels) {
    const x = Math.round(xyMm[2 * i]! * vp.scale + vp.tx - dot / 2) + pad;
    const y = Math.round(xyMm[2 * i + 1]! * vp.scale + vp.ty - dot / 2) + pad;
    if (x < 0 || y < 0 || x + dot > stride || y + dot > height + 2 * pad) continue;
    pixel[n] = i;
    at[n] = y * stride + x;
    n += 1;
  }
  return { pixel: pixel.subarray(0, n), at: at.subarray(0, n) };
}

/** The panel under a point of the floor, or -1. */
export function hitTest(panels: readonly PanelInfo[], x_mm: number, y_mm: number): number {
  return panels.findIndex(
    (p) => x_mm >= p.x_mm && y_mm >= p.y_mm && x_mm < p.x_mm + p.width_mm && y_mm < p.y_mm + p.height_mm,
  );
}

interface Place {
  column: number;
  row: number;
}

/** `C4` is column 2, row 3, both from 0. */
export function parsePosition(text: string): Place | null {
  const match = /^([A-Z]{1,3})([1-9][0-9]*)$/.exec(text);
  if (!match) return null;
  let column = 0;
  for (const letter of match[1]!) column = column * 26 + letter.charCodeAt(0) - 64;
  return { column: column - 1, row: Number(match[2]) - 1 };
}

export function columnName(column: number): string {
  let name = "";
  for (let rest = column + 1; rest > 0; rest = Math.floor((rest - 1) / 26)) {
    name = String.fromCharCode(65 + ((rest - 1) % 26)) + name;
  }
  return name;
}

export type Direction = "left" | "right" | "up" | "down";

/** The next panel that way: in the same line if there is one, else the nearest in the lines beyond. */
export function neighbour(positions: readonly string[], from: string, way: Direction): string | null {
  const here = parsePosition(from);
  if (!here) return null;
  const across = way === "left" || way === "right";
  const sign = way === "right" || way === "down" ? 1 : -1;
  let best: string | null = null;
  let bestCost = Infinity;
  for (const name of positions) {
    const there = parsePosition(name);
    if (!there) continue;
    const along = sign * (across ? there.column - here.column : there.row - here.row);
    const aside = Math.abs(across ? there.row - here.row : there.column - here.column);
    if (along <= 0) continue;
    const cost = along + aside * 1000;
    if (cost < bestCost) {
      bestCost = cost;
      best = name;
    }
  }
  return best;
}
