/** Joints of a simulated floor, broken and mended to see how they are found. */
import { signal } from "@preact/signals";
import { Action } from "../lib/action";
import { noteRefusal } from "./operator";
import { ask } from "./request";
import type { JointFault, SimulationState } from "./types";

const PATH = "/api/v1/simulation";

/** Null until it is known. */
export const simulation = signal<SimulationState | null>(null);
export const breaking = new Action();

export async function lookAtSimulation(): Promise<void> {
  const reply = await ask<SimulationState>({ method: "GET", path: PATH });
  if (reply.ok) simulation.value = reply.value;
}

/** Breaks the joint before a segment, counted from 1, or mends it. */
export async function breakJoint(position: string, segment: number, fault: JointFault): Promise<void> {
  const done = await breaking.run(() => ask<SimulationState>({ method: "POST", path: PATH, body: { position, segment, fault } }));
  noteRefusal(breaking.failure.value);
  if (done) simulation.value = done.value;
}
