/** Makes whole pictures of changes. The daemon knows what each connection has, and sends what differs from that. */
import { DecodeError, type DeltaMessage, type LevelsMessage, type Message, type View } from "./decode";

/** What the rest of the page sees: pictures are whole. */
export type WholeMessage = Exclude<Message, DeltaMessage>;

/** The pictures of one connection. */
export class Pictures {
  #last: Partial<Record<View, LevelsMessage>> = {};

  whole(message: Message): WholeMessage {
    if (message.kind === "layout") this.#last = {};
    if (message.kind === "delta") return (this.#last[message.view] = changed(this.#last[message.view], message));
    if (message.kind === "levels") this.#last[message.view] = message;
    return message;
  }
}

/** Set in the number of pixels of a run whose levels are told by how far they moved. */
const NEAR = 0x8000;

/** A picture of its own: what is shown elsewhere must not change under it. */
function changed(last: LevelsMessage | undefined, { before, runs, ...delta }: DeltaMessage): LevelsMessage {
  const { channels } = delta;
  if (!last || last.frame !== before || last.revision !== delta.revision || last.channels !== channels) throw new DecodeError(`a change of picture ${before} is of none that this page has`);
  const levels = last.levels.slice();
  const numbers = new DataView(runs.buffer, runs.byteOffset, runs.byteLength);
  let at = 0;
  for (let read = 0; read < runs.length; ) {
    if (read + 4 > runs.length) throw new DecodeError("a change of a picture ends inside a run");
    at += numbers.getUint16(read, true) * channels;
    const pixels = numbers.getUint16(read + 2, true);
    const bytes = (pixels & ~NEAR) * channels;
    read += 4;
    if (at + bytes > levels.length) throw beyond();
    if (pixels & NEAR) {
      read = moved(levels, at, at + bytes, runs, read);
    } else {
      if (read + bytes > runs.length) throw beyond();
      levels.set(runs.subarray(read, read + bytes), at);
      read += bytes;
    }
    at += bytes;
  }
  return { ...delta, kind: "levels", levels };
}

/** Half a byte for each level says how far it moved, 8 more than that, the lower half first; or 0, and then what it is follows after all halves. Gives where the next run begins. */
function moved(levels: Uint8Array, from: number, to: number, runs: Uint8Array, read: number): number {
  let far = read + ((to - from + 1) >> 1);
  if (far > runs.length) throw beyond();
  for (let at = from, half = 0; at < to; at++, half++) {
    const code = (runs[read + (half >> 1)]! >> ((half & 1) << 2)) & 15;
    // An array of bytes wraps round as the daemon's sums do.
    if (code !== 0) levels[at] = levels[at]! + code - 8;
    else if (far < runs.length) levels[at] = runs[far++]!;
    else throw beyond();
  }
  return far;
}

const beyond = () => new DecodeError("a change of a picture goes beyond its end");
