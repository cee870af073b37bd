/** Reads the binary messages of `/api/v1/live`; everything is little endian. */
import type { Floor, State, Voltages } from "./types";

export type View = "sent" | "asked";

interface LayoutMessage {
  kind: "layout";
  revision: number;
  floor: Floor;
  /** Centre of every pixel: x, y, x, y, … in millimetres. */
  xyMm: Float32Array;
}

export interface LevelsMessage {
  kind: "levels";
  view: View;
  revision: number;
  frame: number;
  uptimeMs: number;
  /** Levels a pixel: red, green, blue and, if there are 4, white. */
  channels: number;
  /** Linear pulse-width levels as they stand in the slots, colour by colour; a colour that a pixel hasn't is 0. */
  levels: Uint8Array;
}

/** What changed in a picture since one that this page has. */
export interface DeltaMessage extends Omit<LevelsMessage, "kind" | "levels"> {
  kind: "delta";
  /** The frame that it changes. */
  before: number;
  /** Pixels that stay, pixels that follow (u16 each), their levels or how far they moved, and so on. */
  runs: Uint8Array;
}

interface StateMessage {
  kind: "state";
  revision: number;
  state: State;
}

/** The id that this connection goes by, so that a pattern can end with it. */
interface IdMessage {
  kind: "id";
  id: string;
}

export type Verdict = "none" | "dark" | "fits" | "shifted" | "unclear";

/** The slots of one universe as they arrived. */
export interface UniverseSlots {
  /** Its Port-Address as one number. */
  flat: number;
  /** Slots in its last frame. */
  length: number;
  /** Nothing if no frame came. */
  ageMs: number | null;
  /** Where the reference has landed that was wished for. */
  verdict: Verdict;
  /** So many slots later than it should, earlier if negative. */
  shift: number;
  /** 512 levels. */
  levels: Uint8Array;
  /** Bit 0 of the first byte is slot 1; set if it changed within the last second or two. */
  moving: Uint8Array;
}

export interface SlotsMessage {
  kind: "slots";
  revision: number;
  uptimeMs: number;
  universes: UniverseSlots[];
}

interface VoltagesMessage {
  kind: "voltages";
  revision: number;
  voltages: Voltages;
}

export type Message = LayoutMessage | LevelsMessage | DeltaMessage | StateMessage | IdMessage | SlotsMessage | VoltagesMessage;

/** The message breaks the contract; `message` says how. */
export class DecodeError extends Error {}

const LAYOUT_VERSION = 1;
const HEADER = { layout: 16, levels: 16, delta: 20, state: 8, id: 4, slots: 12, universe: 12 } as const;
const SLOTS = 512;
const OF_UNIVERSE = HEADER.universe + SLOTS + SLOTS / 8;
const VERDICTS: readonly Verdict[] = ["none", "dark", "fits", "shifted", "unclear"];

export function decode(buffer: ArrayBuffer): Message {
  if (buffer.byteLength < 8) throw new DecodeError(`message of ${buffer.byteLength} bytes is too short`);
  const view = new DataView(buffer);
  const kind = view.getUint8(0);
  switch (kind) {
    case 1:
      return decodeLayout(view);
    case 2:
      return decodeLevels(view);
    case 3:
      return { kind: "state", revision: view.getUint32(4, true), state: json<State>(buffer, HEADER.state) };
    case 4:
      return { kind: "id", id: new TextDecoder().decode(new Uint8Array(buffer, HEADER.id)) };
    case 5:
      return decodeSlots(view);
    case 6:
      return { kind: "voltages", revision: view.getUint32(4, true), voltages: json<Voltages>(buffer, HEADER.state) };
    case 7:
      return decodeDelta(view);
    default:
      throw new DecodeError(`unknown kind of message ${kind}`);
  }
}

function decodeLayout(view: DataView): LayoutMessage {
  need(view, HEADER.layout);
  const version = view.getUint8(1);
  if (version !== LAYOUT_VERSION) throw new DecodeError(`layout version ${version} is not known to this page`);
  const jsonLength = view.getUint32(8, true);
  const pixels = view.getUint32(12, true);
  // The text is padded to a multiple of four, whether or not its length counts the padding.
  const start = HEADER.layout + Math.ceil(jsonLength / 4) * 4;
  need(view, start + pixels * 8);
  const floor = json<Floor>(view.buffer as ArrayBuffer, HEADER.layout, jsonLength);
  const xyMm = new Float32Array(pixels * 2);
  for (let i = 0; i < xyMm.length; i++) xyMm[i] = view.getFloat32(start + i * 4, true);
  return { kind: "layout", revision: view.getUint32(4, true), floor, xyMm };
}

function decodeLevels(view: DataView): LevelsMessage {
  need(view, HEADER.levels);
  const size = view.byteLength - HEADER.levels;
  const head = headOf(view);
  if (size % head.channels !== 0) throw new DecodeError(`${size} bytes of levels are not whole pixels`);
  return { kind: "levels", ...head, levels: new Uint8Array(view.buffer, HEADER.levels) };
}

function decodeDelta(view: DataView): DeltaMessage {
  need(view, HEADER.delta);
  return { kind: "delta", ...headOf(view), before: view.getUint32(16, true), runs: new Uint8Array(view.buffer, HEADER.delta) };
}

/** What a picture and a change of one begin with. */
function headOf(view: DataView): Omit<LevelsMessage, "kind" | "levels"> {
  const channels = view.getUint8(2);
  if (channels !== 3 && channels !== 4) throw new DecodeError(`${channels} levels a pixel are not known to this page`);
  return {
    view: view.getUint8(1) === 1 ? "asked" : "sent",
    revision: view.getUint32(4, true),
    frame: view.getUint32(8, true),
    uptimeMs: view.getUint32(12, true),
    channels,
  };
}

function decodeSlots(view: DataView): SlotsMessage {
  need(view, HEADER.slots);
  const count = view.getUint16(2, true);
  need(view, HEADER.slots + count * OF_UNIVERSE);
  const universes = Array.from({ length: count }, (_, i): UniverseSlots => {
    const at = HEADER.slots + i * OF_UNIVERSE;
    const age = view.getUint32(at + 4, true);
    const verdict = VERDICTS[view.getUint8(at + 8)];
    if (!verdict) throw new DecodeError(`verdict ${view.getUint8(at + 8)} is not known to this page`);
    return {
      flat: view.getUint16(at, true),
      length: view.getUint16(at + 2, true),
      ageMs: age === 0xffff_ffff ? null : age,
      verdict,
      shift: view.getInt16(at + 10, true),
      levels: new Uint8Array(view.buffer, at + HEADER.universe, SLOTS),
      moving: new Uint8Array(view.buffer, at + HEADER.universe + SLOTS, SLOTS / 8),
    };
  });
  return { kind: "slots", revision: view.getUint32(4, true), uptimeMs: view.getUint32(8, true), universes };
}

function json<T>(buffer: ArrayBuffer, start: number, length?: number): T {
  try {
    return JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, start, length))) as T;
  } catch {
    throw new DecodeError("its JSON can't be read");
  }
}

function need(view: DataView, size: number): void {
  if (view.byteLength < size) throw new DecodeError(`message of ${view.byteLength} bytes should have ${size}`);
}
