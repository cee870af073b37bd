/** Has the floor file read again. */
import { signal } from "@preact/signals";
import { Action } from "../lib/action";
import { noteRefusal } from "./operator";
import { ask } from "./request";

export interface Reloaded {
  revision: number;
  name: string;
  cautions: string[];
}

export const reloading = new Action();

/** What was taken last from this browser, with what should be known about it. */
export const reloaded = signal<Reloaded | null>(null);

/** A large file takes its time. */
const PATIENCE_MS = 30_000;

export async function reload(): Promise<void> {
  reloaded.value = null;
  const done = await reloading.run<Reloaded>(() => ask({ method: "POST", path: "/api/v1/floor/reload", patienceMs: PATIENCE_MS }));
  noteRefusal(reloading.failure.value);
  // What is wrong with the file comes with the state, to every browser.
  if (reloading.failure.value?.code === "file_refused") reloading.failure.value = null;
  if (done) reloaded.value = done.value;
}
