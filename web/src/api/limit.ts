/** Turns the whole floor down while it runs. */
import { Action } from "../lib/action";
import { noteRefusal } from "./operator";
import { ask } from "./request";

export const limiting = new Action();

/** Sets the live limit of the whole floor in volt-amperes; null takes it away. Says whether it was done. */
export async function limitFloor(floor_va: number | null): Promise<boolean> {
  const done = await limiting.run(() => ask({ method: "PUT", path: "/api/v1/limit", body: { floor_va } }));
  noteRefusal(limiting.failure.value);
  return done !== null;
}
