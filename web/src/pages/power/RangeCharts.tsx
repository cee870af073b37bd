import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { fetchRange } from "../../api/history";
import type { RangeReply } from "../../api/types";
import buttons from "../../components/button.module.css";
import { Empty } from "../../components/Empty";
import { type Range, rangePath } from "../../lib/range";
import { RangeChart } from "./RangeChart";
import css from "./HistoryCard.module.css";

export interface Shown {
  title: string;
  /** `feed:F1`. */
  element: string;
}

type Load = { kind: "loading" } | { kind: "ready"; range: Range; replies: Map<string, RangeReply> } | { kind: "failed"; why: string };

/** What was recorded in a range of the chosen elements. What is there stays until the next has come. */
export function RangeCharts({ range, shown }: { range: Range; shown: Shown[] }) {
  const load = useSignal<Load>({ kind: "loading" });
  const tries = useSignal(0);
  const wanted = shown.map(({ element }) => element).join("\n");
  useEffect(() => {
    const stop = new AbortController();
    if (load.value.kind === "failed") load.value = { kind: "loading" };
    Promise.all(
      shown.map(async ({ element }) => [element, await fetchRange(rangePath(range, element), stop.signal)] as const),
    ).then(
      (replies) => {
        if (!stop.signal.aborted) load.value = { kind: "ready", range, replies: new Map(replies) };
      },
      (error: unknown) => {
        if (!stop.signal.aborted) load.value = { kind: "failed", why: error instanceof Error ? error.message : String(error) };
      },
    );
    return () => stop.abort();
  }, [range, wanted, tries.value]);

  const now = load.value;
  if (now.kind === "loading") {
    return (
      <p class={css.count} role="status">
        Loading what was recorded…
      </p>
    );
  }
  if (now.kind === "failed") {
    return (
      <div class={css.retry} role="alert">
        <p class={css.failed}>The history did not come: {now.why}.</p>
        <button type="button" class={buttons.solid} onClick={() => (tries.value += 1)}>
          Try again
        </button>
      </div>
    );
  }
  const there = shown.flatMap((one) => {
    const reply = now.replies.get(one.element);
    return reply ? [{ ...one, reply }] : [];
  });
  return there.every(({ reply }) => reply.elements.length === 0) ? (
    <Empty icon="power" title="Nothing recorded here">
      The daemon recorded nothing of what is chosen in this range. It keeps seconds for an hour and minutes for a year,
      while it runs.
    </Empty>
  ) : (
    <div class={css.charts}>
      {there.map(({ title, element, reply }) => (
        <RangeChart key={element} title={title} range={now.range} reply={reply} />
      ))}
    </div>
  );
}
