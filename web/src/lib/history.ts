/** Ten minutes of every circuit, supply and feed, one row a second. */
import type { HistoryReply, LoadGroup, State } from "../api/types";
import { LOAD_GROUPS } from "../api/types";

export const KEPT_S = 600;

interface Series {
  asked_a: (number | null)[];
  draw_a: (number | null)[];
}

export class History {
  /** Times of the rows on the daemon's uptime scale, rising. */
  readonly uptime_s: number[] = [];
  readonly #series = new Map<string, Series>();

  series(group: LoadGroup, name: string): Series | undefined {
    return this.#series.get(key(group, name));
  }

  /** Replaces everything by what the daemon kept. */
  load(reply: HistoryReply): void {
    this.clear();
    this.uptime_s.push(...reply.uptime_s);
    for (const group of LOAD_GROUPS) {
      for (const [i, name] of reply.names[group].entries()) {
        this.#series.set(key(group, name), {
          asked_a: this.#column(reply.asked_a[group]?.[i]),
          draw_a: this.#column(reply.draw_a[group]?.[i]),
        });
      }
    }
    this.#trim();
  }

  /** Adds a row if a second has passed; a daemon that started anew starts a new history. */
  append(state: State): boolean {
    const last = this.uptime_s.at(-1);
    if (last !== undefined && state.uptime_s < last) this.clear();
    else if (last !== undefined && Math.floor(state.uptime_s) <= Math.floor(last)) return false;
    const before = this.uptime_s.length;
    this.uptime_s.push(state.uptime_s);
    for (const group of LOAD_GROUPS) {
      for (const load of state[group]) {
        const id = key(group, load.name);
        let series = this.#series.get(id);
        if (!series) {
          series = { asked_a: Array(before).fill(null), draw_a: Array(before).fill(null) };
          this.#series.set(id, series);
        }
        series.asked_a[before] = load.asked_a;
        series.draw_a[before] = load.draw_a;
      }
    }
    this.#trim();
    return true;
  }

  clear(): void {
    this.uptime_s.length = 0;
    this.#series.clear();
  }

  #column(values: number[] | undefined): (number | null)[] {
    return this.uptime_s.map((_, row) => values?.[row] ?? null);
  }

  #trim(): void {
    const newest = this.uptime_s.at(-1) ?? 0;
    const first = this.uptime_s.findIndex((t) => t > newest - KEPT_S);
    if (first <= 0) return;
    this.uptime_s.splice(0, first);
    for (const series of this.#series.values()) {
      series.asked_a.splice(0, first);
      series.draw_a.splice(0, first);
    }
  }
}

function key(group: LoadGroup, name: string): string {
  return `${group}:${name}`;
}
