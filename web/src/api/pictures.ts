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
    const bytes = numbers.getUint16(read + 2, true) * channels;
    read += 4;
    if (read + bytes > runs.length || at + bytes > levels.length) throw new DecodeError("a change of a picture goes beyond its end");
    levels.set(runs.subarray(read, read + bytes), at);
    read += bytes;
    at += bytes;
  }
  return { ...delta, kind: "levels", levels };
}
