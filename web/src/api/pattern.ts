/** Starts, steps and stops test patterns. */
import { Action } from "../lib/action";
import type { StartOrder } from "../lib/pattern";
import { answered } from "../store";
import { noteRefusal } from "./operator";
import { ask, type Reply } from "./request";
import type { PatternState } from "./types";

type Wish = Omit<StartOrder, "pattern"> & { pattern: { kind: string } };

/** Starting, stepping and stopping wait for each other no more than for themselves: Stop works at any time. */
export const starting = new Action();
export const stepping = new Action();
export const stopping = new Action();

interface Shown {
  pattern: PatternState | null;
}

/** States that were under way when the answer came say what was before; so long the answer counts. */
const STATES_FOLLOW_MS = 800;
let expiry: ReturnType<typeof setTimeout> | undefined;

async function order(action: Action, send: () => Promise<Reply<Shown>>): Promise<boolean> {
  const done = await action.run(send);
  noteRefusal(action.failure.value);
  if (!done) return false;
  clearTimeout(expiry);
  answered.value = { pattern: done.value.pattern };
  expiry = setTimeout(() => {
    answered.value = null;
  }, STATES_FOLLOW_MS);
  return true;
}

const PATH = "/api/v1/pattern";

/** `action` is that of the button, where a page has several. */
export function start(wish: Wish, action = starting): Promise<boolean> {
  stepping.failure.value = stopping.failure.value = null;
  return order(action, () => ask({ method: "POST", path: PATH, body: wish }));
}

export function stepBy(by: number): Promise<boolean> {
  return order(stepping, () => ask({ method: "POST", path: `${PATH}/step`, body: { by } }));
}

/** Goes to a step, counted from 0. */
export function stepTo(to: number): Promise<boolean> {
  return order(stepping, () => ask({ method: "POST", path: `${PATH}/step`, body: { to } }));
}

export function stop(): Promise<boolean> {
  starting.failure.value = stepping.failure.value = null;
  return order(stopping, () => ask({ method: "DELETE", path: PATH }));
}
