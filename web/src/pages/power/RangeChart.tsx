import { useEffect, useRef } from "preact/hooks";
import uPlot from "uplot";
import "uplot/dist/uPlot.min.css";
import type { RangeReply } from "../../api/types";
import { ampHours, amps, duration, energy } from "../../lib/format";
import type { Range } from "../../lib/range";
import { theme } from "../../lib/theme";
import { watchOnly } from "../../store";
import { amperes, axis, colour, HEIGHT, lines } from "./plot";
import css from "./Chart.module.css";

interface Props {
  title: string;
  range: Range;
  reply: RangeReply;
}

const TIME = new Intl.DateTimeFormat(undefined, { hour: "2-digit", minute: "2-digit" });
const DAY = new Intl.DateTimeFormat(undefined, { day: "numeric", month: "short" });

/** One element in a range: the mean, the band between least and most, asked and limit. */
export function RangeChart({ title, range, reply }: Props) {
  const box = useRef<HTMLDivElement>(null);
  const line = reply.elements[0];
  useEffect(() => {
    const element = box.current;
    if (!element || !line) return;
    const times = line.draw_mean_a.map((_, i) => reply.from_s + i * reply.bucket_s + reply.bucket_s / 2);
    const data = [times, line.draw_min_a, line.draw_max_a, line.draw_mean_a, line.asked_mean_a, line.limit_a];
    const made = new uPlot(options(element, range), data as uPlot.AlignedData, element);
    const observer = new ResizeObserver(() => made.setSize({ width: element.clientWidth, height: HEIGHT }));
    observer.observe(element);
    return () => {
      observer.disconnect();
      made.destroy();
    };
  }, [theme.value, reply]);
  const total = line?.total;
  return (
    <figure class={css.chart}>
      <figcaption class={css.caption}>
        <span class={css.title}>{title}</span>
        {total ? (
          <span>
            highest {amps(total.peak_a)}, average {amps(total.mean_a)}, {ampHours(total.amp_hours)}, {energy(total.kwh)}
            {!watchOnly.value && total.capped_s > 0 && `, dimmed by the cap for ${duration(total.capped_s)}`}
          </span>
        ) : (
          <span>Nothing was recorded in this range.</span>
        )}
      </figcaption>
      {line && <div ref={box} aria-hidden="true" />}
    </figure>
  );
}

function options(element: HTMLElement, { from_s, to_s }: Range): uPlot.Options {
  const { draw, asked, limit } = lines(!watchOnly.peek());
  const edge: uPlot.Series = { stroke: "transparent", width: 0, points: { show: false } };
  const long = to_s - from_s > 36 * 3600;
  const time = (s: number) => (long ? DAY : TIME).format(s * 1000);
  return {
    width: element.clientWidth,
    height: HEIGHT,
    legend: { show: false },
    cursor: { drag: { x: false, y: false }, points: { show: false }, y: false },
    scales: {
      x: { time: true, range: [from_s, to_s] },
      y: { range: (_, __, most) => [0, Math.max(most ?? 0, 0.01) * 1.08] },
    },
    axes: [{ ...axis(), size: 30, space: 64, values: (_, splits) => splits.map(time) }, amperes()],
    series: [{}, edge, edge, draw, asked, limit],
    bands: [{ series: [2, 1], fill: `${colour("--draw")}40` }],
  };
}
