/** Made-up voltages, shaped as the contract says: the further from its feed's first panel, the less. */

const NOMINAL_V = 12;
/** Volts lost for each ampere of a panel and each panel further on its feed. */
const LOST_V_PER_A = 0.16;
const FULL_V = 10.5;
const DARK_V = 9;

/** @returns the voltages of a reckoned state, or nothing lost where the floor does not describe its cables */
export function voltagesOf({ floor }, { t, circuits, supplies, feeds, panels }) {
  const known = new Set(floor.feeds.filter((feed) => feed.cable_known).map((feed) => feed.name));
  const further = new Map();
  const rows = panels.map((panel, i) => {
    const { feed, strip_known } = floor.panels[i];
    const behind = (further.get(feed) ?? 0) + 1;
    further.set(feed, behind);
    const lost = known.has(feed) ? panel.draw_a * behind * LOST_V_PER_A : 0;
    const input_v = NOMINAL_V - lost;
    const lowest_v = input_v - (strip_known ? panel.draw_a * 0.2 : 0);
    const share = Math.min(1, Math.max(0, (lowest_v - DARK_V) / (FULL_V - DARK_V)));
    const light_a = panel.draw_a - floor.panels[i].idle_a;
    return {
      feed, position: panel.position, input_v, lowest_v, lowest_pixel: floor.panels[i].pixels,
      lost_percent: light_a > 1e-6 ? (1 - share) * 100 : null, draw_a: floor.panels[i].idle_a + light_a * share,
    };
  });
  const starving = rows.filter((row) => (row.lost_percent ?? 0) >= 1).sort((a, b) => b.lost_percent - a.lost_percent);
  const column = (key) => rows.map((row) => row[key]);
  return {
    revision: floor.revision, uptime_s: t, took_ms: 1.3, found: true, off_mv: 0.02,
    panels: Object.fromEntries(["input_v", "lowest_v", "lowest_pixel", "lost_percent", "draw_a"].map((key) => [key, column(key)])),
    feeds: feeds.map(({ name }) => {
      const own = rows.filter((row) => row.feed === name);
      const draw_a = own.reduce((sum, row) => sum + row.draw_a, 0);
      return { name, draw_a, lowest_v: Math.min(...own.map((row) => row.lowest_v)), cables_w: draw_a * 0.4, strips_w: draw_a * 0.1 };
    }),
    supplies_a: supplies.map((supply) => supply.draw_a),
    circuits_a: circuits.map((circuit) => circuit.draw_a),
    starving: starving.slice(0, 16).map(({ draw_a: _, ...row }) => row),
    starving_panels: starving.length,
  };
}
