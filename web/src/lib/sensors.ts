/** What people are told of a sensor. */
import type { SensorState, SensorWord } from "../api/types";
import type { IconName } from "../components/Icon";
import type { Tone } from "../components/Status";
import { amps } from "./format";

const WORDS: Record<SensorWord, [string, IconName, Tone]> = {
  waiting: ["waiting", "wait", "quiet"],
  good: ["good", "ok", "good"],
  silent: ["silent", "broken", "warning"],
  frozen: ["frozen", "warning", "warning"],
  absurd: ["absurd", "cross", "warning"],
  apart_above: ["more than computed", "danger", "danger"],
  apart_below: ["less than computed", "warning", "warning"],
};

export const word = (sensor: SensorState) => WORDS[sensor.state];

/** A reading with its unit; nothing is a dash, never a zero. */
export function reading(sensor: SensorState, value: number | null): string {
  if (sensor.quantity === "current" || value === null) return amps(value);
  return `${value.toFixed(value < 100 ? 2 : 0)} V`;
}

/** How far measured lies from expected, with its sign. */
export function difference(percent: number | null): string {
  if (percent === null || !Number.isFinite(percent)) return "–";
  const rounded = Math.abs(percent).toFixed(Math.abs(percent) < 10 ? 1 : 0);
  return Number(rounded) === 0 ? "0 %" : `${percent < 0 ? "−" : "+"}${rounded} %`;
}

/** What is measured at a place by a sensor of current that can be believed; null if nothing is. */
export function measuredAt(sensors: readonly SensorState[], place: string): string | null {
  const believed = (s: SensorState) => s.state === "good" || s.state === "apart_above" || s.state === "apart_below";
  const here = sensors.filter((s) => s.place === place && s.quantity === "current" && s.measured !== null && believed(s));
  return here.length === 0 ? null : amps(Math.max(...here.map((s) => s.measured ?? 0)));
}

/** What a run taught, in one line. */
export function taught({ calibration }: SensorState): string {
  if (!calibration) return "not calibrated";
  const gains = Object.entries(calibration.gains).map(([colour, gain]) => `${colour} × ${gain.toFixed(2)}`);
  return `calibrated: dark ${amps(calibration.idle_a)}, ${gains.join(", ")}`;
}
