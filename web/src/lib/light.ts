/** Pulse-width levels are linear in light; a screen is not (IEC 61966-2-1, sRGB). */

/** What a pixel looks like at level 0, so that its place can be seen. */
export const UNLIT = 24;

/** How a pixel's levels become one colour on a screen. */
export const MIX = { colours: 0, coloursAndWhite: 1, white: 2 } as const;

/** sRGB value, 0 to 1, of a linear share of light, 0 to 1. */
export function encode(linear: number): number {
  return linear <= 0.0031308 ? 12.92 * linear : 1.055 * linear ** (1 / 2.4) - 0.055;
}

/**
 * Screen value of a sum of two levels, 0 to 510; never falls, and the least light can be told from
 * none. Two levels, because white adds to each colour: the brightest possible sum is what the screen
 * shows as full, so that nothing clips and any dimming is seen.
 */
const SUMS: Uint8Array = Uint8Array.from({ length: 511 }, (_, sum) =>
  Math.round(UNLIT + (255 - UNLIT) * encode(sum / 510)),
);

/** Screen value of one level where nothing adds to it. */
export function screenValue(level: number): number {
  return SUMS[2 * level] ?? 255;
}

/**
 * Screen colours (r, g, b, r, …) of raw levels, into `screen`.
 *
 * @param channels levels a pixel: red, green, blue and, if there are 4, white
 * @param mixes one of `MIX` a pixel
 */
export function mixInto(screen: Uint8Array, levels: Uint8Array, channels: number, mixes: Uint8Array): void {
  for (let pixel = 0, from = 0, to = 0; pixel < mixes.length; pixel++, from += channels, to += 3) {
    const white = channels > 3 ? levels[from + 3]! : 0;
    const mix = mixes[pixel];
    for (let colour = 0; colour < 3; colour++) {
      const level = levels[from + colour]!;
      const sum = mix === MIX.colours ? 2 * level : mix === MIX.white ? 2 * white : level + white;
      screen[to + colour] = SUMS[sum]!;
    }
  }
}
