/** A survey of what is dead: begins and stops it, answers what eyes are asked, and follows it. */
import { Action } from "../lib/action";
import { liveId } from "../store";
import type { SegmentCondition } from "./health";
import { noteRefusal } from "./operator";
import { ask, type Reply } from "./request";
import { Watched } from "./watched";

export type SurveyBy = "sensors" | "eyes";

/** Segments are counted from 1. */
export interface SegmentAt {
  position: string;
  segment: number;
}

export interface FoundItem extends SegmentAt {
  /** The colour on analogue strip. */
  colour: string | null;
}

export interface SurveyQuestion {
  /** Counted from 1. */
  number: number;
  total: number;
  lit: SegmentAt[];
  text: string;
}

export interface SurveyedSegment {
  condition: SegmentCondition;
  share: number | null;
  doubt: number;
  colours_out: string[];
}

export interface SurveyResult {
  ended: "decided" | "time_is_up" | "stopped" | "refused";
  text: string;
  dead: FoundItem[];
  weak?: FoundItem[];
  stuck?: FoundItem[];
  /** Items of which nothing can be said. */
  unknown?: number;
  /** Sensors that took no part, and why. */
  left_out?: string[];
  /** The readings are unlike all that could be found; the text says so. */
  doubtful?: boolean;
}

export interface SurveyState {
  running: boolean;
  by: SurveyBy | null;
  /** Lights shown so far. */
  pattern: number;
  decided: number;
  items: number;
  spent_s: number;
  left_s: number | null;
  map: { position: string; segments: SurveyedSegment[] }[];
  outcome: SurveyResult | null;
  question: SurveyQuestion | null;
  /** How many have ended. */
  ended: number;
}

export interface SurveyWish {
  by: SurveyBy;
  /** The whole floor if it is left out. */
  positions?: string[];
  level: number;
  /** Sensors look for segments that draw too little, too, which takes far longer. */
  weak: boolean;
  endsWithPage: boolean;
}

const PATH = "/api/v1/survey";
/** Where the next light is chosen by what was answered, that may take a while. */
const THINKING_MS = 60_000;

export const survey = new Watched<SurveyState>(PATH);
export const beginning = new Action();
export const stopping = new Action();
export const answering = new Action();
export const undoing = new Action();

/** The daemon may answer with the new state, or with nothing; it is looked at then. */
async function change(action: Action, send: () => Promise<Reply<SurveyState | null>>): Promise<boolean> {
  for (const other of [beginning, stopping, answering, undoing]) if (other !== action) other.failure.value = null;
  const done = await action.run(send);
  noteRefusal(action.failure.value);
  if (done?.value && "running" in done.value) survey.put(done.value);
  else await survey.look();
  return done !== null;
}

export function begin({ by, positions, level, weak, endsWithPage }: SurveyWish): Promise<boolean> {
  const owner = endsWithPage && liveId.value !== null ? { ends_with: liveId.value } : {};
  return change(beginning, () => ask({ method: "POST", path: PATH, body: { by, ...(positions ? { positions } : {}), level, ...(weak ? { weak } : {}), ...owner } }));
}

export function stop(): Promise<boolean> {
  return change(stopping, () => ask({ method: "DELETE", path: PATH }));
}

/** What does not look as it is drawn: what should be lit and is dark, and what gives light and shouldn't. */
export function seen(number: number, dark: SegmentAt[]): Promise<boolean> {
  return change(answering, () => ask({ method: "POST", path: `${PATH}/seen`, body: { number, dark }, patienceMs: THINKING_MS }));
}

/** Takes the last answer back. `number` is that of the open question. */
export function undo(number: number): Promise<boolean> {
  return change(undoing, () => ask({ method: "POST", path: `${PATH}/undo`, body: { number } }));
}
