/**
 * How many pictures a second to ask for: as many as arrive in time.
 *
 * Through weak Wi-Fi pictures queue up on their way, and the plan would show the past. A picture
 * carries the time at which it was made, so the delay is seen, and fewer are asked for until it is
 * gone.
 */
const MOST_FPS = 30;
const FEWEST_FPS = 3;
/** A picture that is later than this beside the fastest of late has queued. */
const LATE_MS = 250;
/** A picture that is later than this is no reason to ask for more. */
const IN_TIME_MS = 100;
/** One late picture alone may have stood still for long before it was sent. */
const LATE_IN_A_ROW = 3;
/** After a change the pictures on their way are waited for. */
const PAUSE_MS = 3_000;
/** So long all must be in time before more are asked for. */
const CALM_MS = 10_000;
/** Two clocks drift apart: the fastest picture is looked for afresh in every such span. */
const SPAN_MS = 30_000;

export class Pace {
  fps = MOST_FPS;
  #fastest = Infinity;
  #fastestBefore = Infinity;
  #spanBegan = 0;
  #changed = -Infinity;
  #lastLate = -Infinity;
  #lateInARow = 0;

  /** A picture made at `madeMs` of one clock arrived at `nowMs` of another; true if `fps` changed. */
  note(madeMs: number, nowMs: number): boolean {
    const offset = nowMs - madeMs;
    // The daemon began anew, or a clock was set: the old comparison means nothing.
    if (Math.abs(offset - this.#fastest) > 10 * SPAN_MS) this.#fastestBefore = this.#fastest = Infinity;
    if (nowMs - this.#spanBegan > SPAN_MS) {
      this.#fastestBefore = this.#fastest;
      this.#fastest = Infinity;
      this.#spanBegan = nowMs;
    }
    this.#fastest = Math.min(this.#fastest, offset);
    const lateMs = offset - Math.min(this.#fastest, this.#fastestBefore);
    if (lateMs > IN_TIME_MS) this.#lastLate = nowMs;
    this.#lateInARow = lateMs > LATE_MS ? this.#lateInARow + 1 : 0;
    if (nowMs - this.#changed < PAUSE_MS) return false;
    let fps = this.fps;
    if (this.#lateInARow >= LATE_IN_A_ROW) fps = Math.max(FEWEST_FPS, Math.floor(fps / 2));
    else if (nowMs - Math.max(this.#lastLate, this.#changed) > CALM_MS) fps = Math.min(MOST_FPS, fps * 2);
    if (fps === this.fps) return false;
    this.fps = fps;
    this.#changed = nowMs;
    return true;
  }
}
