/** Starts and stops a calibration run, and makes the token with which sensors report. */
import { Action } from "../lib/action";
import { noteRefusal } from "./operator";
import { ask } from "./request";

export const calibrating = new Action();
export const stopping = new Action();
export const renewing = new Action();

const PATH = "/api/v1/calibration";

/** Whoever calls this was told to see that nobody is on the floor. */
export async function calibrate(): Promise<boolean> {
  stopping.failure.value = null;
  const done = await calibrating.run(() => ask<null>({ method: "POST", path: PATH, body: { floor_is_clear: true } }));
  noteRefusal(calibrating.failure.value);
  return done !== null;
}

export async function stopCalibration(): Promise<void> {
  calibrating.failure.value = null;
  await stopping.run(() => ask<null>({ method: "DELETE", path: PATH }));
  noteRefusal(stopping.failure.value);
}

/** Gives the new token; the one before is void. */
export async function renewToken(): Promise<string | null> {
  const done = await renewing.run(() => ask<{ token: string }>({ method: "POST", path: "/api/v1/readings/token" }));
  noteRefusal(renewing.failure.value);
  return done?.value.token ?? null;
}
