import { useEffect, useRef, useState } from "preact/hooks";
import type { SensorState } from "../../api/types";
import { settledMean } from "../../lib/book";
import { READINGS, SETTLE_MS } from "../../lib/bench";

export interface Mean {
  /** Of the light that is on; null as long as nothing has settled. */
  mean_a: number | null;
  readings: number;
  enough: boolean;
}

/**
 * Gathers the readings of the light that is on. `lit` changes with every light; nothing counts before
 * both the light and the sensor have settled.
 */
export function useReadings(sensor: SensorState | null, uptime_s: number, lit: string | null): Mean {
  const list = useRef<{ at_ms: number; value: number }[]>([]);
  const since = useRef(0);
  const [, redraw] = useState(0);
  useEffect(() => {
    list.current = [];
    since.current = uptime_s * 1000;
  }, [lit]);
  const measured = sensor?.measured ?? null;
  const age_s = sensor?.age_s ?? null;
  useEffect(() => {
    if (measured === null || age_s === null || lit === null) return;
    const at_ms = (uptime_s - age_s) * 1000;
    const last = list.current[list.current.length - 1];
    // The same reading comes with several states.
    if (last && at_ms - last.at_ms < 50) return;
    list.current.push({ at_ms, value: measured });
    redraw((n) => n + 1);
  }, [uptime_s, measured, age_s, lit]);
  const readings = list.current.filter(({ at_ms }) => at_ms - since.current >= SETTLE_MS).length;
  return { mean_a: lit === null ? null : settledMean(list.current, since.current, SETTLE_MS), readings, enough: readings >= READINGS };
}
