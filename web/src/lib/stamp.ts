/** A round dot as a list of places in an image, so that drawing a pixel is a handful of writes. */
export interface Stamp {
  size: number;
  /** Offsets from the upper left corner. */
  at: Int32Array;
  /** Opacity of each place, already in the top byte. */
  alpha: Uint32Array;
}

export function stamp(size: number, stride: number): Stamp {
  const at: number[] = [];
  const alpha: number[] = [];
  const radius = size / 2;
  for (let y = 0; y < size; y++) {
    for (let x = 0; x < size; x++) {
      // Up to 3 pixels a disc is only a blurred square.
      const cover = size <= 3 ? 1 : Math.min(1, Math.max(0, radius - Math.hypot(x + 0.5 - radius, y + 0.5 - radius) + 0.5));
      if (cover <= 0.02) continue;
      at.push(y * stride + x);
      alpha.push((Math.round(cover * 255) << 24) >>> 0);
    }
  }
  return { size, at: Int32Array.from(at), alpha: Uint32Array.from(alpha) };
}

/** Paints every visible pixel, `screen` holding r, g, b of each, into a little-endian RGBA image. */
export function paint(
  image: Uint32Array,
  screen: Uint8Array,
  pixel: Uint32Array,
  at: Uint32Array,
  dot: Stamp,
): void {
  const places = dot.at.length;
  for (let n = 0; n < pixel.length; n++) {
    const p = pixel[n]! * 3;
    const colour = screen[p]! | (screen[p + 1]! << 8) | (screen[p + 2]! << 16);
    const corner = at[n]!;
    for (let k = 0; k < places; k++) image[corner + dot.at[k]!] = colour | dot.alpha[k]!;
  }
}
