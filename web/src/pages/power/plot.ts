/** What the charts have in common. */
import type uPlot from "uplot";

export const HEIGHT = 200;

export function colour(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

export function axis(): Partial<uPlot.Axis> {
  return {
    stroke: colour("--muted"),
    font: `12px ${colour("--font")}`,
    grid: { stroke: colour("--line"), width: 1 },
    ticks: { stroke: colour("--line"), width: 1, size: 4 },
  };
}

export function amperes(): uPlot.Axis {
  return { ...axis(), size: 52, values: (_, splits) => splits.map((a) => `${a} A`) };
}

/** Draw, asked and limit; they differ by their dashes as well as by colour. */
export function lines(asked: boolean): { draw: uPlot.Series; asked: uPlot.Series; limit: uPlot.Series } {
  return {
    draw: { stroke: colour("--draw"), width: 2, points: { show: false } },
    asked: { show: asked, stroke: colour("--asked"), width: 1.5, dash: [5, 4], points: { show: false } },
    limit: { stroke: colour("--limit"), width: 1.5, dash: [12, 3, 2, 3], points: { show: false } },
  };
}
