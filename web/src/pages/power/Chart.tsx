import type { ReadonlySignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import uPlot from "uplot";
import "uplot/dist/uPlot.min.css";
import type { LoadGroup, LoadState } from "../../api/types";
import { amps } from "../../lib/format";
import { type History, KEPT_S } from "../../lib/history";
import { theme } from "../../lib/theme";
import { watchOnly } from "../../store";
import { amperes, axis, colour, HEIGHT, lines } from "./plot";
import css from "./Chart.module.css";

interface Props {
  title: string;
  group: LoadGroup;
  now: LoadState;
  history: History;
  rows: ReadonlySignal<number>;
}

/** One element's asked, draw and limit against time. */
export function Chart({ title, group, now, history, rows }: Props) {
  const box = useRef<HTMLDivElement>(null);
  const plot = useRef<uPlot | null>(null);
  const data = (): uPlot.AlignedData => {
    const series = history.series(group, now.name);
    const newest = history.uptime_s.at(-1) ?? 0;
    const times = history.uptime_s.map((t) => t - newest);
    const none = times.map(() => null);
    return [times, series?.draw_a ?? none, series?.asked_a ?? none, times.map(() => now.limit_a)];
  };

  useEffect(() => {
    const element = box.current;
    if (!element) return;
    const made = new uPlot(options(element, now.limit_a), data(), element);
    plot.current = made;
    const observer = new ResizeObserver(() => made.setSize({ width: element.clientWidth, height: HEIGHT }));
    observer.observe(element);
    return () => {
      observer.disconnect();
      made.destroy();
      plot.current = null;
    };
  }, [theme.value, group, now.name, now.limit_a]);
  useEffect(() => {
    plot.current?.setData(data());
  }, [rows.value]);

  const kept = history.series(group, now.name)?.draw_a.filter((a) => a !== null) ?? [];
  const most = kept.length > 0 ? Math.max(...kept) : null;
  return (
    <figure class={css.chart}>
      <figcaption class={css.caption}>
        <span class={css.title}>{title}</span>
        <span>
          now {amps(now.draw_a)}, highest {amps(most)}, limit {amps(now.limit_a)}
        </span>
      </figcaption>
      <div ref={box} aria-hidden="true" />
    </figure>
  );
}

function options(element: HTMLElement, limit_a: number): uPlot.Options {
  const { draw, asked, limit } = lines(!watchOnly.peek());
  return {
    width: element.clientWidth,
    height: HEIGHT,
    legend: { show: false },
    cursor: { drag: { x: false, y: false }, points: { show: false }, y: false },
    scales: {
      x: { time: false, range: [-KEPT_S, 0] },
      y: { range: (_, __, most) => [0, Math.max(most ?? 0, limit_a) * 1.08] },
    },
    axes: [
      {
        ...axis(),
        size: 30,
        splits: (plot) => (plot.width < 420 ? [-600, -300, 0] : [-600, -480, -360, -240, -120, 0]),
        values: (_, splits) => splits.map((s) => (s === 0 ? "now" : `−${-s / 60} min`)),
      },
      amperes(),
    ],
    series: [{}, { ...draw, fill: `${colour("--draw")}26` }, asked, limit],
  };
}
