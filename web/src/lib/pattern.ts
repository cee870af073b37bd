/** From what was chosen on the test page to an order, and the words for both. */
import type { LevelsMessage } from "../api/decode";
import type { Floor, PatternState, Rights } from "../api/types";
import type { Connection } from "../store";
import { plural } from "./format";

export const KINDS = ["panel", "walk", "run", "row", "column", "node", "universe", "colours", "labels", "joints", "all"] as const;
export type Kind = (typeof KINDS)[number];

export const KIND: Record<Kind, { name: string; about: string }> = {
  panel: { name: "Panel", about: "Lights one panel alone. If another one lights up, the two are swapped or the start slot is wrong." },
  walk: { name: "Walk", about: "One panel after the other in wiring order: shows where panels were plugged in another order." },
  run: { name: "Run", about: "All panels on one port of a node." },
  row: { name: "Row", about: "One row of the grid." },
  column: { name: "Column", about: "One column of the grid." },
  node: { name: "Node", about: "Everything that hangs on one node." },
  universe: { name: "Universe", about: "Every pixel with a slot in one universe, as the console sends it." },
  colours: { name: "Colours", about: "Each colour alone, one after the other: shows a wrong colour order." },
  labels: {
    name: "Labels",
    about:
      "Every panel shows its own position. With too few pixels for letters it blinks it: the column, then the row, a long flash for ten and a short one for one.",
  },
  joints: { name: "Joints", about: "The first segment of every panel, then the second, and so on: where it stays dark, look at the joint before that segment." },
  all: { name: "All", about: "All pixels at once: what the caps hold is seen here." },
};

const OF_OTHER_PAGES: Record<string, string> = {
  mark: "Panel marked for a walk",
  pixel: "Panel marked for a walk",
  segment: "One segment",
  survey: "Light of a survey",
};

/** The word for a pattern that is on; other pages have kinds of their own, which nobody chooses here. */
export function kindWord(kind: string): string {
  return KIND[kind as Kind]?.name ?? OF_OTHER_PAGES[kind] ?? kind;
}

export const COLOURS = ["white", "red", "green", "blue", "yellow", "cyan", "magenta"] as const;
export type ColourName = (typeof COLOURS)[number];

/** What stands on the test page. */
export interface Choice {
  kind: Kind;
  position: string;
  /** Index of a run; null for all, which only a walk can take. */
  run: number | null;
  row: number;
  column: string;
  node: string;
  portAddress: string;
  /** Steps by itself rather than by buttons. */
  auto: boolean;
  stepS: number;
  /** Positions that it takes from the console; null for the whole floor. */
  covered: string[] | null;
  percent: number;
  colour: ColourName;
  lastsMin: number;
  endsWithPage: boolean;
}

type Pace = { held: number } | { step_ms: number };

export interface StartOrder {
  pattern: { kind: Kind; pace?: Pace } & Record<string, unknown>;
  cover: "all" | { panels: string[] };
  level: number;
  colour: ColourName;
  lasts_s: number;
  ends_with?: string;
}

/** What the page offers; all within the daemon's bounds. */
export const STEPS_S = [0.5, 1, 2, 3, 5, 10, 20];
export const LASTS_MIN = [1, 2, 5, 10, 15, 30, 60];

const letterOf = (position: string) => position.replace(/\d+$/, "");
const rowOf = (position: string) => Number(position.replace(/^\D+/, ""));

/** Letters of the columns that have a panel, from left to right. */
export function columnsOf(floor: Floor): string[] {
  const byLength = (a: string, b: string) => a.length - b.length || (a < b ? -1 : 1);
  return [...new Set(floor.panels.map((panel) => letterOf(panel.position)))].sort(byLength);
}

export function rowsOf(floor: Floor): number[] {
  return [...new Set(floor.panels.map((panel) => rowOf(panel.position)))].sort((a, b) => a - b);
}

export function firstChoice(floor: Floor): Choice {
  return {
    kind: "panel", position: floor.panels[0]?.position ?? "", run: null, row: rowsOf(floor)[0] ?? 1, column: columnsOf(floor)[0] ?? "A",
    node: floor.nodes[0]?.name ?? "", portAddress: floor.universes[0]?.port_address ?? "", auto: false, stepS: 1, covered: null,
    percent: 50, colour: "white", lastsMin: 5, endsWithPage: true,
  };
}

/** The choice, with what a new floor no longer has replaced by what it has. */
export function fitted(choice: Choice, floor: Floor): Choice {
  const first = firstChoice(floor);
  const has = (position: string) => floor.panels.some((panel) => panel.position === position);
  return {
    ...choice,
    position: has(choice.position) ? choice.position : first.position,
    run: choice.run !== null && choice.run < floor.runs.length ? choice.run : null,
    row: rowsOf(floor).includes(choice.row) ? choice.row : first.row,
    column: columnsOf(floor).includes(choice.column) ? choice.column : first.column,
    node: floor.nodes.some((node) => node.name === choice.node) ? choice.node : first.node,
    portAddress: floor.universes.some((u) => u.port_address === choice.portAddress) ? choice.portAddress : first.portAddress,
    covered: choice.covered?.filter(has) ?? null,
  };
}

export const hasSteps = (kind: Kind) => kind === "walk" || kind === "colours" || kind === "joints";

/** `id` is the live connection that a pattern is to end with. */
export function orderOf(choice: Choice, id: string | null): StartOrder {
  const pace: Pace = choice.auto ? { step_ms: Math.round(choice.stepS * 1000) } : { held: 0 };
  const named: Record<Kind, Record<string, unknown>> = {
    panel: { position: choice.position },
    walk: { run: choice.run, pace },
    run: { run: choice.run ?? 0 },
    row: { row: choice.row },
    column: { column: choice.column },
    node: { node: choice.node },
    universe: { port_address: choice.portAddress },
    colours: { pace },
    joints: { pace },
    labels: {},
    all: {},
  };
  const order: StartOrder = {
    pattern: { kind: choice.kind, ...named[choice.kind] },
    cover: choice.covered === null ? "all" : { panels: choice.covered },
    level: Math.round((choice.percent * 255) / 100),
    colour: choice.colour,
    lasts_s: Math.round(choice.lastsMin * 60),
  };
  return choice.endsWithPage && id !== null ? { ...order, ends_with: id } : order;
}

/** What must be chosen before this can be started; null if nothing. */
export function missing(choice: Choice): string | null {
  if (choice.covered?.length === 0) return "Choose at least one panel that the pattern covers, or the whole floor.";
  if (choice.percent === 0) return "At a level of 0 % everything stays dark: raise the level.";
  return null;
}

/** Why nothing can be changed from here now, and what to do; null if it can. */
export function barrier(rights: Rights | null, connection: Connection["kind"]): string | null {
  if (connection === "lost") return "No connection to litfloor: wait until it is back.";
  if (rights === null) return "Asking litfloor whether you may…";
  if (rights.may_control) return null;
  if (rights.guest) return "This address is for guests: it shows the floor and changes nothing.";
  if (rights.passphrase_set) return "You may look. Sign in with the operator's passphrase to change something.";
  if (rights.from_this_machine) {
    return "Without a passphrase, changes are taken only under a numeric address: open http://127.0.0.1 with this page's port instead.";
  }
  return "You may look. No passphrase is set yet, so changes are taken only from the machine that litfloor runs on: open the dashboard there and set one.";
}

/** `4:32`, and `1:00:00` for an hour. */
export function countdown(s: number): string {
  const whole = Math.max(0, Math.ceil(s));
  const two = (value: number) => String(value).padStart(2, "0");
  const minutes = Math.floor(whole / 60);
  return minutes < 60 ? `${minutes}:${two(whole % 60)}` : `${Math.floor(minutes / 60)}:${two(minutes % 60)}:${two(whole % 60)}`;
}

/** People count runs from 1, as the patch sheet does. */
export function runName(floor: Floor, index: number): string {
  const run = floor.runs[index];
  if (!run) return `run ${index + 1}`;
  const at = [run.node, run.port === null ? null : `port ${run.port}`].filter(Boolean).join(" ");
  return `Run ${index + 1}: ${at ? `${at}, ` : ""}from ${run.start}/${run.slot}, ${plural(run.panels.length, "panel")}`;
}

/** Positions in a text such as `C4, d4`, as far as the floor has them, and the words that it has not. */
export function positionsIn(text: string, floor: Floor): { found: string[]; unknown: string[] } {
  const words = text.toUpperCase().split(/[\s,;]+/).filter(Boolean);
  const has = new Set(floor.panels.map((panel) => panel.position));
  return { found: [...new Set(words.filter((word) => has.has(word)))], unknown: words.filter((word) => !has.has(word)) };
}

/**
 * The positions of a walk, step by step, as far as the state tells: null for other patterns, and for a
 * walk over chosen panels, which the state only counts.
 */
export function walkOrder(on: PatternState, floor: Floor): readonly string[] | null {
  const { step, steps } = on;
  if (on.kind !== "walk" || !on.covers_all || step === null) return null;
  const runs = floor.runs.map((run) => run.panels);
  return [runs.flat(), ...runs].find((order) => order.length === steps && order[step] === on.lit[0]) ?? null;
}

/**
 * Positions that are lit. The state names the first few; of more the picture tells which show light,
 * and `exact` is false where that may be the console's.
 */
export function litPanels(on: PatternState, floor: Floor, picture: LevelsMessage | null): { positions: Set<string>; exact: boolean } {
  if (on.lit_panels <= on.lit.length) return { positions: new Set(on.lit), exact: true };
  if (on.lit_panels === floor.panels.length) return { positions: new Set(floor.panels.map((panel) => panel.position)), exact: true };
  if (picture === null) return { positions: new Set(on.lit), exact: false };
  const lit = floor.panels.filter((panel) => {
    const first = panel.first_pixel * picture.channels;
    return picture.levels.subarray(first, first + panel.pixels * picture.channels).some((level) => level > 0);
  });
  return { positions: new Set(lit.map((panel) => panel.position)), exact: on.covers_all };
}
