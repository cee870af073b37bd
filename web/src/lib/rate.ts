const MOST_FPS = 30;
const FEWEST_FPS = 10;
/** What a booth's Wi-Fi carries beside everything else. */
const BYTES_A_SECOND = 5_000_000;

/** Pictures a second to ask for, so that a large floor still fits through the air. */
export function wantedFps(pixels: number): number {
  if (pixels === 0) return MOST_FPS;
  return Math.max(FEWEST_FPS, Math.min(MOST_FPS, Math.floor(BYTES_A_SECOND / (pixels * 3))));
}
