/** The stepping mode: begins a walk, gives answers, and follows what other phones do with it. */
import { signal } from "@preact/signals";
import { Action } from "../lib/action";
import { liveId, rights } from "../store";
import { noteRefusal } from "./operator";
import { ask, type Failure, type Reply } from "./request";
import type { Corrected, StepAnswer, Stepping, Walk } from "./types";

const PATH = "/api/v1/stepping";
/** On an entangled floor the daemon thinks for seconds. */
const THINKING_MS = 60_000;
/** So long after a new question taps are not taken: a finger may still be coming down for the last one. */
const SETTLE_MS = 400;

/** Undefined until it is known; null if there is none. */
export const walk = signal<Walk | null | undefined>(undefined);
/** The last look at the daemon got no answer. */
export const unheard = signal(false);
/** An answer that was tapped and is not yet known to have been taken. */
export const unsent = signal<{ number: number; answer: StepAnswer; tries: number } | null>(null);
/** A question has only just come. */
export const settling = signal(false);
/** Why the question is another one, when it was not this page's doing. */
export const told = signal<string | null>(null);
/** Whether the light ends when this browser goes away. */
export const endsWithPage = signal(true);
export const corrected = signal<Corrected | null>(null);

export const beginning = new Action();
export const answering = new Action();
export const undoing = new Action();
export const lighting = new Action();
export const ending = new Action();
export const correcting = new Action();

/** Counts changes, so that an answer to a look that set out before one is not taken for news. */
let changes = 0;
let settled: ReturnType<typeof setTimeout> | undefined;

function take({ walk: next }: Stepping, own: boolean): void {
  const before = walk.value?.question?.number;
  const now = next?.question?.number;
  if (before !== now) {
    if (own) told.value = null;
    else if (before !== undefined && unsent.value === null && !next?.outdated) {
      told.value = next === null ? "The walk was ended elsewhere." : "The walk went on elsewhere: another phone answered, or took an answer back.";
    }
    if (unsent.value && unsent.value.number !== now) unsent.value = null;
    settling.value = now !== undefined;
    clearTimeout(settled);
    settled = setTimeout(() => {
      settling.value = false;
    }, SETTLE_MS);
  }
  unheard.value = false;
  walk.value = next;
}

export async function look(): Promise<void> {
  const before = changes;
  const reply = await ask<Stepping>({ method: "GET", path: PATH });
  if (before !== changes) return;
  if (reply.ok) take(reply.value, false);
  else unheard.value = true;
}

/** What the page does every two seconds: sends what was not heard, else looks. */
export async function tick(): Promise<void> {
  if (answering.busy.value) return;
  if (unsent.value && rights.value?.may_control !== false) await deliver();
  else await look();
}

async function change(action: Action, send: () => Promise<Reply<Stepping | null>>): Promise<boolean> {
  for (const other of [beginning, answering, undoing, lighting, ending]) if (other !== action) other.failure.value = null;
  changes += 1;
  const done = await action.run(send);
  changes += 1;
  const failure = action.failure.value;
  noteRefusal(failure);
  if (done) take(done.value ?? { walk: null }, true);
  else if (failure && OVERTAKEN.has(failure.code)) {
    action.failure.value = null;
    await look();
    told.value = "The walk had already gone on, here or on another phone. This is where it stands now.";
  } else if (failure?.kind === "unheard") unheard.value = true;
  return done !== null;
}

const OVERTAKEN = new Set(["question_moved_on", "no_walk", "walk_under_way", "walk_over", "floor_replaced"]);

const owner = () => (endsWithPage.value && liveId.value !== null ? { ends_with: liveId.value } : {});

export function begin(level: number, again: boolean): Promise<boolean> {
  corrected.value = null;
  return change(beginning, () => ask({ method: "POST", path: PATH, body: { level, ...owner(), ...(again ? { again } : {}) }, patienceMs: THINKING_MS }));
}

/** One tap. It is kept until the daemon has heard it. */
export function answer(given: StepAnswer): void {
  const question = walk.value?.question;
  if (!question || unsent.value || settling.value || undoing.busy.value) return;
  unsent.value = { number: question.number, answer: given, tries: 0 };
  told.value = null;
  void deliver();
}

async function deliver(): Promise<void> {
  const sent = unsent.value;
  if (!sent || answering.busy.value) return;
  changes += 1;
  const body = { number: sent.number, answer: sent.answer };
  const done = await answering.run(() => ask<Stepping>({ method: "POST", path: `${PATH}/answer`, body, patienceMs: THINKING_MS }));
  changes += 1;
  if (done) {
    take(done.value, true);
    return;
  }
  const failure = answering.failure.value;
  if (!failure) return;
  noteRefusal(failure);
  if (mayComeThrough(failure)) {
    unsent.value = { ...sent, tries: sent.tries + 1 };
    if (failure.kind === "unheard") unheard.value = true;
    return;
  }
  unsent.value = null;
  if (!OVERTAKEN.has(failure.code)) return;
  answering.failure.value = null;
  await look();
  // After a try without an answer it was most likely that one which was heard.
  const heardBefore = sent.tries > 0 && walk.value?.question?.number === sent.number + 1;
  told.value = heardBefore
    ? "Your answer had arrived."
    : "That question had already been answered, by a double tap or on another phone. Your tap was not counted; this is what is open now.";
}

/** Whether the same answer may yet be taken if it is sent again. */
function mayComeThrough({ kind, code }: Failure): boolean {
  return kind === "unheard" || code === "thinking" || code === "not_signed_in" || code === "busy" || code === "ending" || /^5\d\d$/.test(code);
}

/** Gives up an answer that was not heard, to choose another. */
export function forgetUnsent(): void {
  unsent.value = null;
  answering.failure.value = null;
  void look();
}

export function undo(): Promise<boolean> {
  const number = walk.value?.question?.number ?? walk.value?.answers ?? 0;
  return change(undoing, () => ask({ method: "POST", path: `${PATH}/undo`, body: { number }, patienceMs: THINKING_MS }));
}

export function light(): Promise<boolean> {
  return change(lighting, () => ask({ method: "POST", path: `${PATH}/light`, body: owner() }));
}

export function end(): Promise<boolean> {
  corrected.value = null;
  return change(ending, () => ask({ method: "DELETE", path: PATH }));
}

export async function correct(): Promise<void> {
  const done = await correcting.run(() => ask<Corrected>({ method: "GET", path: `${PATH}/corrected`, patienceMs: THINKING_MS }));
  corrected.value = done ? done.value : null;
}
