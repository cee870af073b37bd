/** Who may change something: asks, signs in and out, sets the passphrase. The token stays in a cookie that no script reads. */
import { signal } from "@preact/signals";
import { Action } from "../lib/action";
import { rights } from "../store";
import { ask, type Failure } from "./request";
import type { Rights } from "./types";

/** Whether the dialog with all this is open. */
export const dialogOpen = signal(false);
export const entering = new Action();
export const leaving = new Action();
export const setting = new Action();

/** After wrong passphrases the daemon answers later and later. */
const TRY_MS = 90_000;
const SESSION = "/api/v1/session";

export async function learnRights(): Promise<void> {
  const reply = await ask<Rights>({ method: "GET", path: SESSION });
  // Without an answer the last one stands; the lost connection is told elsewhere.
  if (reply.ok) rights.value = reply.value;
}

export async function signIn(passphrase: string): Promise<boolean> {
  const done = await entering.run(() => ask({ method: "POST", path: SESSION, body: { passphrase }, patienceMs: TRY_MS }));
  await learnRights();
  return done !== null;
}

export async function signOut(): Promise<boolean> {
  const done = await leaving.run(() => ask({ method: "DELETE", path: SESSION }));
  await learnRights();
  return done !== null;
}

export async function setPassphrase(passphrase: string): Promise<boolean> {
  const done = await setting.run(() => ask({ method: "PUT", path: "/api/v1/passphrase", body: { passphrase }, patienceMs: TRY_MS }));
  await learnRights();
  return done !== null;
}

const RIGHTS_LOST = new Set(["not_signed_in", "not_this_machine", "foreign_host", "locked"]);

/** A refusal may tell that a session has ended meanwhile. */
export function noteRefusal(failure: Failure | null): void {
  if (failure && RIGHTS_LOST.has(failure.code)) void learnRights();
}
