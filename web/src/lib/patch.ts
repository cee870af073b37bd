/** Which slot of an arriving universe lights which pixel, both ways. */
import type { Floor, PanelInfo } from "../api/types";
import { flatNumber } from "./address";
import { kindOf } from "./pixels";

/** A run of slots in one universe that light pixels of one panel, in wiring order. Slots count from 1. */
export interface Stretch {
  flat: number;
  first_slot: number;
  last_slot: number;
  panel: PanelInfo;
  /** Slots of the panel that lie before it. */
  before: number;
}

/** What one slot lights. */
export interface LitBy {
  panel: PanelInfo;
  /** The pixel, counted on the whole floor from 0. */
  pixel: number;
  /** The letter of its colour in wire order; a small letter is the fine half of a 16-bit level. */
  letter: string;
}

export interface Patch {
  floor: Pick<Floor, "pixel_kinds" | "panels" | "nodes">;
  /** Stretches of every mapped universe, ascending by slot. */
  byUniverse: ReadonlyMap<number, readonly Stretch[]>;
  byPanel: ReadonlyMap<string, readonly Stretch[]>;
}

export function patchOf(floor: Patch["floor"]): Patch {
  const byUniverse = new Map<number, Stretch[]>();
  const byPanel = new Map<string, Stretch[]>();
  for (const panel of floor.panels) {
    let before = 0;
    for (const span of panel.source_spans) {
      const flat = flatNumber(span.port_address);
      if (flat === null) continue;
      const { first_slot, last_slot } = span;
      const stretch = { flat, first_slot, last_slot, panel, before };
      before += last_slot - first_slot + 1;
      put(byUniverse, flat, stretch);
      put(byPanel, panel.position, stretch);
    }
  }
  for (const stretches of byUniverse.values()) stretches.sort((a, b) => a.first_slot - b.first_slot);
  return { floor, byUniverse, byPanel };
}

function put<K>(map: Map<K, Stretch[]>, key: K, stretch: Stretch): void {
  const list = map.get(key);
  if (list) list.push(stretch);
  else map.set(key, [stretch]);
}

/** Wire order of a panel's pixels, one letter a slot. */
export function wireOrder(patch: Patch, panel: PanelInfo): string {
  return kindOf(panel, patch.floor)?.slots || "RGB";
}

/** Everything that a slot lights: more than one pixel where several panels share a source. */
export function litBy(patch: Patch, flat: number, slot: number): LitBy[] {
  const stretches = patch.byUniverse.get(flat) ?? [];
  return stretches
    .filter((s) => slot >= s.first_slot && slot <= s.last_slot)
    .map(({ panel, before, first_slot }) => {
      const letters = wireOrder(patch, panel);
      const offset = before + slot - first_slot;
      return {
        panel,
        pixel: panel.first_pixel + Math.floor(offset / letters.length),
        letter: letters[offset % letters.length] ?? "",
      };
    });
}

export interface SlotRange {
  flat: number;
  first_slot: number;
  last_slot: number;
}

/** Slots that light one pixel; two ranges where it lies across two universes. */
export function slotsOf(patch: Patch, panel: PanelInfo, pixel: number): SlotRange[] {
  const wide = wireOrder(patch, panel).length;
  const from = (pixel - panel.first_pixel) * wide;
  const found: SlotRange[] = [];
  for (const s of patch.byPanel.get(panel.position) ?? []) {
    const first = Math.max(from, s.before);
    const last = Math.min(from + wide - 1, s.before + s.last_slot - s.first_slot);
    if (first > last) continue;
    found.push({ flat: s.flat, first_slot: s.first_slot + first - s.before, last_slot: s.first_slot + last - s.before });
  }
  return found;
}

const COLOURS: Record<string, string> = { R: "red", G: "green", B: "blue", W: "white" };

/** `red`, or `red, fine half` for a small letter. */
export function colourWord(letter: string): string {
  const word = COLOURS[letter.toUpperCase()] ?? letter;
  return letter === letter.toUpperCase() ? word : `${word}, fine half`;
}

/** A Port-Address from its number: Art-Net 4, bits 14 to 8, 7 to 4 and 3 to 0. */
export function portAddress(flat: number): string {
  return `${flat >> 8}:${(flat >> 4) & 15}:${flat & 15}`;
}

/** Art-Net 4: seven, four and four bits. */
const BOUNDS = "net goes from 0 to 127, sub-net and universe from 0 to 15, a single number from 0 to 32767";

export type Found =
  | { kind: "panel"; panel: PanelInfo }
  | { kind: "pixel"; panel: PanelInfo; pixel: number }
  | { kind: "slot"; flat: number; slot: number }
  | { kind: "universe"; flat: number }
  | { kind: "node"; name: string; panels: PanelInfo[] }
  | { kind: "nothing"; why: string };

/** A panel by its position, or else by its serial, whether letters are small or large. */
function panelCalled(patch: Patch, text: string): PanelInfo | undefined {
  const same = (a: string) => a !== "" && a.toLowerCase() === text.toLowerCase();
  const { panels } = patch.floor;
  return panels.find((p) => same(p.position)) ?? panels.find((p) => same(p.serial));
}

/** What a person means by `C4`, `C4:17`, `P004:17`, `0:0:3/121`, `3/121`, `0:0:3`, a serial or a node's name. */
export function find(patch: Patch, words: string): Found {
  const text = words.trim();
  const same = (a: string) => a.toLowerCase() === text.toLowerCase();
  const { panels, nodes } = patch.floor;
  const panel = panelCalled(patch, text);
  if (panel) return { kind: "panel", panel };
  const node = nodes.find((n) => same(n.name) || same(n.address) || same(n.address.replace(/:\d+$/, "")));
  if (node) return { kind: "node", name: node.name, panels: panels.filter((p) => p.node === node.name) };
  const pixel = /^([^:]+):([1-9]\d*)$/.exec(text);
  const called = pixel?.[1]?.trim() ?? "";
  const of = panelCalled(patch, called);
  if (pixel && of) {
    const number = Number(pixel[2]);
    if (number > of.pixels) return { kind: "nothing", why: `Panel ${of.position} has ${of.pixels} pixels.` };
    return { kind: "pixel", panel: of, pixel: of.first_pixel + number - 1 };
  }
  if (pixel) return { kind: "nothing", why: `The floor has no panel ${called.toUpperCase()}.` };
  const slot = /^(\d+|\d+:\d+:\d+)(?:\/(\d+))?$/.exec(text);
  if (slot) {
    const flat = slot[1]?.includes(":") ? flatNumber(slot[1]) : Number(slot[1]);
    if (flat === null || flat > 0x7fff) return { kind: "nothing", why: `${slot[1]} is no Port-Address: ${BOUNDS}.` };
    if (slot[2] === undefined) return { kind: "universe", flat };
    const number = Number(slot[2]);
    if (number < 1 || number > 512) return { kind: "nothing", why: `A universe has slots 1 to 512, not ${number}.` };
    return { kind: "slot", flat, slot: number };
  }
  const why = `Nothing is called “${text}”. Try a position (C4), a pixel (C4:17, or a serial in place of C4), a slot (0:0:3/121 or 3/121), a serial or a node.`;
  return { kind: "nothing", why };
}
