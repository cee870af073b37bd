import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { fetchEnergy } from "../../api/history";
import type { EnergyReply } from "../../api/types";
import { Card } from "../../components/Card";
import { Empty } from "../../components/Empty";
import table from "../../components/table.module.css";
import buttons from "../../components/button.module.css";
import { ampHours, amps, duration, energy } from "../../lib/format";
import { narrow } from "../../lib/narrow";
import { connection, watchOnly } from "../../store";
import { RecordingNote } from "./RecordingNote";
import css from "./HistoryCard.module.css";

/** Time between two looks. */
const EVERY_MS = 5_000;

type Row = EnergyReply["elements"][number];

const COLUMNS: readonly { word: string; value(row: Row): string; capped?: boolean }[] = [
  { word: "Peak", value: ({ total }) => amps(total.peak_a) },
  { word: "Average", value: ({ total }) => amps(total.mean_a) },
  { word: "Charge", value: ({ total }) => ampHours(total.amp_hours) },
  { word: "Energy", value: ({ total }) => energy(total.kwh) },
  { word: "Dimmed by the cap", value: ({ total }) => duration(total.capped_s), capped: true },
  { word: "Asked over its limit", value: ({ total, kind }) => (kind === "floor" ? "–" : duration(total.over_s)) },
];

const name = ({ kind, name: own }: Row) => (kind === "floor" ? "whole floor" : `${kind} ${own}`);

/** What every circuit, supply and feed drew since the daemon was started. */
export function TotalsCard() {
  const reply = useSignal<EnergyReply | null>(null);
  const failed = useSignal("");
  const tries = useSignal(0);
  const online = connection.value.kind === "open";
  useEffect(() => {
    if (!online) return;
    const stop = new AbortController();
    let busy = false;
    const look = () => {
      if (busy) return;
      busy = true;
      fetchEnergy(stop.signal)
        .then(
          (energy) => {
            reply.value = energy;
            failed.value = "";
          },
          (error: unknown) => {
            if (!stop.signal.aborted) failed.value = error instanceof Error ? error.message : String(error);
          },
        )
        .finally(() => {
          busy = false;
        });
    };
    look();
    const timer = setInterval(look, EVERY_MS);
    return () => {
      clearInterval(timer);
      stop.abort();
    };
  }, [online, tries.value]);

  const now = reply.value;
  const since = now && new Date(now.since).toLocaleString(undefined, { dateStyle: "medium", timeStyle: "short" });
  return (
    <Card title="Since the start">
      {failed.value && (
        <div class={css.retry} role="alert">
          <p class={css.failed}>The totals did not come: {failed.value}.</p>
          <button type="button" class={buttons.solid} onClick={() => (tries.value += 1)}>
            Try again
          </button>
        </div>
      )}
      {!now && !failed.value && <p class={css.count}>Loading the totals…</p>}
      {now && (
        <>
          <p class={table.lead}>
            Computed since litfloor was started, {since}. Energy is what the mains gave, with the losses of the supplies; charge
            and amperes are mains amperes of the floor and of circuits, output amperes of supplies and feeds.
          </p>
          <RecordingNote recording={now.recording} />
          {now.elements.length === 0 ? (
            <Empty icon="power" title="No totals yet">
              They begin with the first second.
            </Empty>
          ) : narrow.value ? (
            <Cards rows={now.elements} />
          ) : (
            <Table rows={now.elements} />
          )}
        </>
      )}
    </Card>
  );
}

/** On a floor that is only watched nothing is asked and nothing dimmed: it draws what arrives. */
function columns() {
  if (!watchOnly.value) return COLUMNS;
  return COLUMNS.filter(({ capped }) => !capped).map((column) => ({ ...column, word: column.word.replace("Asked over", "Over") }));
}

function Table({ rows }: { rows: Row[] }) {
  return (
    <table class={table.table}>
      <thead>
        <tr>
          <th scope="col">Element</th>
          {columns().map(({ word }) => (
            <th key={word} scope="col" class={table.number}>
              {word}
            </th>
          ))}
        </tr>
      </thead>
      <tbody>
        {rows.map((row) => (
          <tr key={name(row)}>
            <th scope="row">{name(row)}</th>
            {columns().map(({ word, value }) => (
              <td key={word} class={table.number}>
                {value(row)}
              </td>
            ))}
          </tr>
        ))}
      </tbody>
    </table>
  );
}

function Cards({ rows }: { rows: Row[] }) {
  return (
    <ul class={table.cards}>
      {rows.map((row) => (
        <li key={name(row)}>
          <div class={table.cardHead}>
            <h3>{name(row)}</h3>
          </div>
          <dl class={table.facts}>
            {columns().map(({ word, value }) => (
              <div key={word}>
                <dt class={table.small}>{word}</dt>
                <dd>{value(row)}</dd>
              </div>
            ))}
          </dl>
        </li>
      ))}
    </ul>
  );
}
