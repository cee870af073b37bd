/** What is dead, as far as it is known: looks, reports of people, and withdrawal of evidence. */
import type { Action } from "../lib/action";
import { noteRefusal } from "./operator";
import { ask } from "./request";
import { Watched } from "./watched";

export type SegmentCondition = "unknown" | "good" | "weak" | "dead" | "stuck";
export type Sureness = "certain" | "likely" | "possible";
export type EvidenceKind = "node" | "signal" | "sensor" | "survey" | "eyes" | "show" | "switch" | "report";
export type Says = "dark" | "flickers" | "wrong_colour" | "fine_now";

export interface EvidenceRow {
  id: number;
  kind: EvidenceKind;
  text: string;
  age_s: number;
  /** What is measured comes again by itself, so only what people said is withdrawn. */
  can_withdraw: boolean;
}

export interface FoundFault {
  /** The same as long as it is the same fault. */
  key: string;
  cause: string;
  place: string;
  effect: string;
  position: string | null;
  serial: string | null;
  /** Segments of that panel that it takes out, counted from 1. */
  segments: number[];
  behind: string[];
  sure: Sureness;
  /** 0 to 1. */
  chance: number;
  /** How sure it is that something is broken at this place, be it this or another thing there: 0 to 1. */
  here: number;
  alternatives: string[];
  /** Keys of other faults at the same place. */
  same_place: string[];
  evidence: EvidenceRow[];
  /** Uptime at which it was first seen. */
  since_s: number;
}

export interface SegmentHealth {
  condition: SegmentCondition;
  share: number | null;
  /** Probability that the condition is wrong. */
  doubt: number;
  colours_out: string[];
  age_s: number | null;
}

export interface PanelHealth {
  position: string;
  segments: SegmentHealth[];
  /** Keys of the faults that touch it. */
  faults: string[];
  pressed: number[];
}

export interface Health {
  revision: number;
  uptime_s: number;
  /** How many surveys had ended that this reckons with. */
  surveys: number;
  /** In the order in which one would walk the floor. */
  faults: FoundFault[];
  panels: PanelHealth[];
}

export const health = new Watched<Health>("/api/v1/faults");

async function change(action: Action, send: Parameters<typeof ask>[0]): Promise<boolean> {
  const done = await action.run(() => ask<Health>(send));
  noteRefusal(action.failure.value);
  if (done) health.put(done.value);
  return done !== null;
}

/** What somebody sees of a panel, or of one of its segments, counted from 1. */
export function report(action: Action, position: string, segment: number | null, says: Says): Promise<boolean> {
  return change(action, { method: "POST", path: "/api/v1/reports", body: { position, segment, says } });
}

export function withdraw(action: Action, id: number): Promise<boolean> {
  return change(action, { method: "DELETE", path: `/api/v1/evidence/${id}` });
}
