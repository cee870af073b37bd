/** Pulse-width levels are linear in light; a screen is not (IEC 61966-2-1, sRGB). */

/** What a pixel looks like at level 0, so that its place can be seen. */
export const UNLIT = 24;

/** sRGB value, 0 to 1, of a linear share of light, 0 to 1. */
export function encode(linear: number): number {
  return linear <= 0.0031308 ? 12.92 * linear : 1.055 * linear ** (1 / 2.4) - 0.055;
}

/** Screen value of every level; never falls, and level 1 can be told from level 0. */
export const SCREEN: Uint8Array = Uint8Array.from({ length: 256 }, (_, level) =>
  Math.round(UNLIT + (255 - UNLIT) * encode(level / 255)),
);

/** `rgb(…)` for one pixel of the picture. */
export function screenColour(rgb: Uint8Array, pixel: number): string {
  const at = (colour: number) => SCREEN[rgb[pixel * 3 + colour] ?? 0];
  return `rgb(${at(0)} ${at(1)} ${at(2)})`;
}
