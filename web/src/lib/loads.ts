/** Sums over the power tree, as functions of the snapshot. */
import type { Floor, LoadGroup, LoadState, PanelInfo, PanelState, State } from "../api/types";

/** What is left below a limit, as a share of the limit; 0 when it is reached, negative beyond. */
export function headroom(draw_a: number, limit_a: number | null): number | null {
  if (limit_a === null) return null;
  return limit_a > 0 ? (limit_a - draw_a) / limit_a : draw_a > 0 ? -1 : 0;
}

export const GROUP_WORD: Record<LoadGroup, string> = { circuits: "circuit", supplies: "supply", feeds: "feed" };

interface Worst {
  share: number;
  /** `feed F3`. */
  name: string;
}

/** The least headroom of everything that has a limit. */
export function worstHeadroom(state: State): Worst | null {
  let worst: Worst | null = null;
  const look = (draw_a: number, limit_a: number | null, name: string) => {
    const share = headroom(draw_a, limit_a);
    if (share !== null && (worst === null || share < worst.share)) worst = { share, name };
  };
  for (const c of state.circuits) look(c.draw_a, c.limit_a, `circuit ${c.name}`);
  for (const s of state.supplies) look(s.draw_a, s.limit_a, `supply ${s.name}`);
  for (const f of state.feeds) look(f.draw_a, f.limit_a, `feed ${f.name}`);
  for (const p of state.panels) look(p.draw_a, p.limit_a, `panel ${p.position}`);
  return worst;
}

/** Mains amperes of all circuits, and their apparent power by the circuits' volts. */
export function mains(state: State, floor: Floor): { draw_a: number; power_va: number } {
  let draw_a = 0;
  let power_va = 0;
  for (const circuit of state.circuits) {
    const volts = floor.circuits.find((c) => c.name === circuit.name)?.volts ?? 0;
    draw_a += circuit.draw_a;
    power_va += circuit.draw_a * volts;
  }
  return { draw_a, power_va };
}

export interface Branch {
  group: LoadGroup;
  load: LoadState;
  children: Branch[];
  /** Only a feed has panels. */
  panels: { info: PanelInfo; state: PanelState }[];
}

/** Circuit → supply → feed → panels. Whatever has no known parent stands at the top. */
export function tree(state: State, floor: Floor): Branch[] {
  const panelOf = new Map(state.panels.map((p) => [p.position, p]));
  const feeds = state.feeds.map((load): Branch => ({
    group: "feeds",
    load,
    children: [],
    panels: floor.panels
      .filter((info) => info.feed === load.name)
      .flatMap((info) => {
        const panel = panelOf.get(info.position);
        return panel ? [{ info, state: panel }] : [];
      }),
  }));
  const of = (group: LoadGroup, load: LoadState, below: Branch[]): Branch => ({
    group,
    load,
    children: below.filter((b) => b.load.parent === load.name),
    panels: [],
  });
  const supplies = state.supplies.map((load) => of("supplies", load, feeds));
  const circuits = state.circuits.map((load) => of("circuits", load, supplies));
  const known = (names: LoadState[], b: Branch) => names.some((l) => l.name === b.load.parent);
  return [
    ...circuits,
    ...supplies.filter((b) => !known(state.circuits, b)),
    ...feeds.filter((b) => !known(state.supplies, b)),
  ];
}
