/** The one typed store: what arrived last, as signals that views read. */
import { computed, signal } from "@preact/signals";
import type { LevelsMessage, UniverseSlots, View } from "./api/decode";
import type { Reference } from "./api/live";
import type { WholeMessage } from "./api/pictures";
import type { Floor, PatternState, Rights, State, Voltages } from "./api/types";

export interface Layout {
  revision: number;
  floor: Floor;
  xyMm: Float32Array;
}

export type Connection =
  | { kind: "connecting" }
  | { kind: "open" }
  | { kind: "lost"; attempts: number; retryAtMs: number };

export const connection = signal<Connection>({ kind: "connecting" });
export const layout = signal<Layout | null>(null);
export const state = signal<State | null>(null);
/** The newest voltages; null until some are found. */
export const voltages = signal<Voltages | null>(null);
/** The last picture of each view; the one that is not asked for stays old. */
export const levels = { sent: signal<LevelsMessage | null>(null), asked: signal<LevelsMessage | null>(null) };
/** What may be done from here; null until it is known. */
export const rights = signal<Rights | null>(null);
/** This page was opened at the address for guests: it shows no controls. */
export const guest = computed(() => rights.value?.guest === true);
/** The id that this page's live connection goes by. */
export const liveId = signal<string | null>(null);
/** What the daemon answered to an order, until its next states say the same. */
export const answered = signal<{ pattern: PatternState | null } | null>(null);
/** The test pattern that is on. */
export const pattern = computed(() => (answered.value ? answered.value.pattern : (state.value?.pattern ?? null)));
/** Browser time at which the last message arrived. */
export const heardAtMs = signal(0);
/** Browser time, once a second. */
export const nowMs = signal(Date.now());
/** A message that broke the contract: page and daemon are of different versions. */
export const brokenMessage = signal<string | null>(null);

/** The last few pictures of each view, newest last. */
const recent: Record<View, LevelsMessage[]> = { sent: [], asked: [] };
const RECENT = 12;

/** Who sent a universe last, so that it can still be said when it is lost. */
export const lastSources = new Map<string, string>();

/** Port-Addresses whose slots are in sight on the patch page. */
export const lookedAt = signal<readonly string[]>([]);
/** What is sent from the console on purpose and compared with the floor file. */
export const reference = signal<Reference | null>(null);
/** Slots as they arrived last, by Port-Address as a number. */
export const slots = signal<ReadonlyMap<number, UniverseSlots>>(new Map());

export const view = signal<View>("sent");
export const selected = signal<string | null>(null);
/** Whether this litfloor keeps a book of repairs. */
export const hasBook = computed(() => layout.value?.floor.book ?? false);
/** The floor has no nodes: what arrives is shown and reckoned, and nothing is held back. */
export const watchOnly = computed(() => layout.value?.floor.watch_only ?? false);

/** Seconds since anything arrived. */
export const ageS = computed(() =>
  heardAtMs.value === 0 ? null : Math.max(0, Math.round((nowMs.value - heardAtMs.value) / 1000)),
);

/** Takes one message in. Levels of a floor that was replaced are left out. */
export function apply(message: WholeMessage, atMs: number): void {
  heardAtMs.value = atMs;
  if (message.kind === "layout") {
    forget("sent");
    forget("asked");
    slots.value = new Map();
    voltages.value = null;
    layout.value = { revision: message.revision, floor: message.floor, xyMm: message.xyMm };
    // Where nothing is capped there is only one picture.
    if (message.floor.watch_only) view.value = "sent";
    if (!message.floor.panels.some((panel) => panel.position === selected.value)) selected.value = null;
  } else if (message.kind === "state") {
    for (const { port_address, sources } of message.state.universes) {
      const newest = sources.reduce<(typeof sources)[number] | null>((a, b) => (a && a.age_s <= b.age_s ? a : b), null);
      if (newest) lastSources.set(port_address, newest.address);
    }
    state.value = message.state;
  } else if (message.kind === "id") {
    liveId.value = message.id;
  } else if (message.kind === "voltages") {
    if (message.revision === layout.value?.revision) voltages.value = message.voltages;
  } else if (message.kind === "slots") {
    // Those that went out of sight keep what they showed last.
    const next = new Map(slots.value);
    for (const universe of message.universes) next.set(universe.flat, universe);
    slots.value = next;
  } else {
    takeLevels(message);
  }
}

/** Takes a picture in, if it belongs to the floor that is shown. */
export function takeLevels(message: LevelsMessage): boolean {
  const shown = layout.value;
  if (!shown || shown.revision !== message.revision || message.levels.length * 2 !== shown.xyMm.length * message.channels) return false;
  const list = recent[message.view];
  list.push(message);
  if (list.length > RECENT) list.shift();
  levels[message.view].value = message;
  return true;
}

/** Drops the pictures of a view that no longer come. */
export function forget(which: View): void {
  recent[which].length = 0;
  levels[which].value = null;
}

/**
 * Asked and sent of the same moment: the other view comes more rarely, so the newest picture of the
 * shown one would not belong to it.
 */
export const compared = computed(() => {
  const main = view.value;
  const shown = levels[main].value;
  const rare = levels[main === "sent" ? "asked" : "sent"].value;
  const gap = (m: LevelsMessage) => Math.abs(m.uptimeMs - (rare?.uptimeMs ?? 0));
  const match = rare ? recent[main].reduce((best, m) => (gap(m) <= gap(best) ? m : best), shown ?? rare) : shown;
  const fitting = match?.view === main ? match : null;
  return main === "sent" ? { sent: fitting, asked: rare } : { sent: rare, asked: fitting };
});
