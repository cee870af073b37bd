/** The book of repairs: faults and their steps, panels and their history, where each one lies. */
import type { Action } from "../lib/action";
import { noteRefusal } from "./operator";
import { ask } from "./request";
import { Watched } from "./watched";

export type FaultStage = "found" | "being_repaired" | "repaired" | "proved" | "dismissed";
/** What people may say; that something is proved only the daemon says, after a survey. */
export type Stepped = Exclude<FaultStage, "proved">;

export interface BookStep {
  state: FaultStage;
  /** RFC 3339. */
  at: string;
  who: string;
  note: string;
  evidence: string | null;
}

export interface BookFault {
  id: number;
  /** That of the fault which was found; of one that was written by hand, its own. */
  key: string;
  serial: string | null;
  position: string | null;
  cause: string;
  place: string;
  text: string;
  sure: string;
  state: FaultStage;
  found_at: string;
  steps: BookStep[];
  open: boolean;
}

/** Mean currents of one panel, beyond nothing: `dark_a`, `red_a`, … */
export type Signature = Record<string, number>;

export interface BookBench {
  at: string;
  passed: boolean;
  who: string;
  note: string;
  signature: Signature | null;
}

export interface BookPanel {
  serial: string;
  /** Where it lies now; null if it is not placed. */
  position: string | null;
  positions: { position: string; from: string; to: string | null; who: string }[];
  benches: BookBench[];
  faults: BookFault[];
  notes: { at: string; who: string; text: string }[];
}

/** A panel in the list of all. */
export interface BookPanelRow {
  serial: string;
  position: string | null;
  open_faults: number;
  last_bench: { at: string; passed: boolean } | null;
}

export interface Checklist {
  unplaced: string[];
  silent: string[];
  changed: { serial: string; position: string; was: string; is: string }[];
  placed: { position: string; serial: string }[];
}

const BOOK = "/api/v1/book";

export const FAULTS_CSV = `${BOOK}/export.csv`;
export const FLOOR_TOML = `${BOOK}/floor.toml`;

export const bookFaults = new Watched<BookFault[]>(`${BOOK}/faults`);
export const bookPanels = new Watched<BookPanelRow[]>(`${BOOK}/panels`);
export const bookPanel = new Watched<BookPanel>(`${BOOK}/panels/-`);
export const checklist = new Watched<Checklist>(`${BOOK}/checklist`);

const panelPath = (serial: string) => `${BOOK}/panels/${encodeURIComponent(serial)}`;
export const turnToPanel = (serial: string) => bookPanel.turnTo(panelPath(serial));

/** Where a label is drawn that leads to a panel's page at an address. */
export const labelPath = (serial: string, at: string) => `/api/v1/labels/${encodeURIComponent(serial)}.svg?at=${encodeURIComponent(at)}`;

async function write(action: Action, request: Parameters<typeof ask>[0], ...then: Watched<never>[]): Promise<boolean> {
  const done = await action.run(() => ask<unknown>(request));
  noteRefusal(action.failure.value);
  // What was not heard may have been done.
  await Promise.all(then.map((watched) => watched.look()));
  return done !== null;
}

const FAULTS = bookFaults as Watched<never>;
const ONE = bookPanel as Watched<never>;
const ALL = bookPanels as Watched<never>;
const LIST = checklist as Watched<never>;

export function stepFault(action: Action, id: number, state: Stepped, who: string, note: string, onPanel = false): Promise<boolean> {
  return write(action, { method: "POST", path: `${BOOK}/faults/${id}`, body: { state, who, note } }, onPanel ? ONE : FAULTS);
}

/** A fault that somebody saw; of a panel by its serial, or by where it lies. */
export function writeFault(action: Action, at: { serial: string } | { position: string }, text: string, who: string): Promise<boolean> {
  return write(action, { method: "POST", path: `${BOOK}/faults`, body: { ...at, text, who } }, FAULTS);
}

export function writeNote(action: Action, serial: string, text: string, who: string): Promise<boolean> {
  return write(action, { method: "POST", path: `${panelPath(serial)}/notes`, body: { text, who } }, ONE);
}

export interface BenchWish {
  passed: boolean;
  who: string;
  note: string;
  signature: Signature | null;
}

export function writeBench(action: Action, serial: string, wish: BenchWish): Promise<boolean> {
  return write(action, { method: "POST", path: `${panelPath(serial)}/bench`, body: wish }, ALL);
}

export function place(action: Action, serial: string, position: string, who: string): Promise<boolean> {
  return write(action, { method: "POST", path: `${BOOK}/placed`, body: { serial, position, who } }, LIST);
}

export function unplace(action: Action, position: string): Promise<boolean> {
  return write(action, { method: "DELETE", path: `${BOOK}/placed/${encodeURIComponent(position)}` }, LIST);
}

/** What would change in the floor file by the serials as they are placed. */
export const floorDiff = new Watched<{ diff: string }>(`${BOOK}/diff`);
