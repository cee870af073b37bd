/** A simulated floor, broken and mended to see how that is found. */
import { Action } from "../lib/action";
import { noteRefusal } from "./operator";
import { ask } from "./request";
import type { JointFault, SimulationState } from "./types";
import { Watched } from "./watched";

const PATH = "/api/v1/simulation";

export const simulation = new Watched<SimulationState>(PATH);
export const breaking = new Action();

/** Breaks the joint before a segment, counted from 1, or the segment itself, or mends it. */
export async function breakJoint(position: string, segment: number, fault: JointFault): Promise<void> {
  const done = await breaking.run(() => ask<SimulationState>({ method: "POST", path: PATH, body: { position, segment, fault } }));
  noteRefusal(breaking.failure.value);
  if (done) simulation.put(done.value);
}
