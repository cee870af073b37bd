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
  const held = useRef<{ lit: string | null; since_ms: number; list: { at_ms: number; value: number }[] }>({ lit: null, since_ms: 0, list: [] });
  const [, redraw] = useState(0);
  // At once, or what was read in the last light would stand beside the next.
  if (held.current.lit !== lit) held.current = { lit, since_ms: uptime_s * 1000, list: [] };
  const { since_ms, list } = held.current;
  const measured = sensor?.measured ?? null;
  const age_s = sensor?.age_s ?? null;
  useEffect(() => {
    if (measured === null || age_s === null || lit === null) return;
    const at_ms = (uptime_s - age_s) * 1000;
    const list = held.current.list;
    const last = list[list.length - 1];
    // The same reading comes with several states.
    if (last && at_ms - last.at_ms < 50) return;
    list.push({ at_ms, value: measured });
    redraw((n) => n + 1);
  }, [uptime_s, measured, age_s, lit]);
  const readings = list.filter(({ at_ms }) => at_ms - since_ms >= SETTLE_MS).length;
  return { mean_a: lit === null ? null : settledMean(list, since_ms, SETTLE_MS), readings, enough: readings >= READINGS };
}
