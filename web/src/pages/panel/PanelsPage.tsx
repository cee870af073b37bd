import { useMemo, useState } from "preact/hooks";
import { bookPanels, type BookPanelRow } from "../../api/book";
import type { State } from "../../api/types";
import { Card } from "../../components/Card";
import { Empty } from "../../components/Empty";
import { Sections } from "../../components/Sections";
import { Status } from "../../components/Status";
import { TextField } from "../../components/TextField";
import { Stale, Unseen } from "../../components/Unseen";
import { useWatched } from "../../components/useWatched";
import { moment, searched } from "../../lib/book";
import { plural } from "../../lib/format";
import { hashOf } from "../../lib/route";
import type { Layout } from "../../store";
import css from "./PanelsPage.module.css";

const EVERY_MS = 15_000;
/** So many are listed before someone searches. */
const SHOWN = 100;

/** All panels that the book or the floor file knows. */
export function PanelsPage({ layout }: { layout: Layout; state: State }) {
  // States come often, and change nothing here.
  return useMemo(() => <Page layout={layout} />, [layout]);
}

function Page({ layout }: { layout: Layout }) {
  useWatched(bookPanels, EVERY_MS);
  const [word, setWord] = useState("");
  const book = bookPanels.value.value;
  const rows = book ? searched(book, word) : [];
  return (
    <>
      <Sections />
      <Stale watched={bookPanels} />
      <Card title="Panels" aside={book && book.length > 0 ? plural(book.length, "panel") : undefined}>
        {!book ? (
          <Unseen watched={bookPanels} what="Which panels the book knows." />
        ) : book.length === 0 ? (
          <Empty icon="floor" title="No panel has a serial yet">
            Give panels a serial in the floor file of {layout.floor.name}, test one on the bench, or place one by its serial: then it stands here.
          </Empty>
        ) : (
          <>
            <TextField label="Search by serial or position" value={word} onText={setWord} exact />
            <p role="status" class={css.small}>
              {rows.length === 0 ? `No panel has “${word.trim()}” in its serial, nor lies there.` : rows.length > SHOWN ? `The first ${SHOWN} of ${rows.length}.` : ""}
            </p>
            <ul class={css.list}>
              {rows.slice(0, SHOWN).map((row) => (
                <Row key={row.serial} row={row} />
              ))}
            </ul>
          </>
        )}
      </Card>
    </>
  );
}

function Row({ row }: { row: BookPanelRow }) {
  const { serial, position, open_faults, last_bench } = row;
  return (
    <li>
      <a class={css.row} href={hashOf("panel", serial)}>
        <b>{serial}</b>
        <span>{position ?? "not placed"}</span>
        {open_faults > 0 ? (
          <Status icon="warning" tone="warning">
            {plural(open_faults, "open fault")}
          </Status>
        ) : (
          <span class={css.small}>no open fault</span>
        )}
        {last_bench ? (
          <Status icon={last_bench.passed ? "ok" : "cross"} tone={last_bench.passed ? "good" : "danger"}>
            {`${last_bench.passed ? "passed" : "failed"} ${moment(last_bench.at)}`}
          </Status>
        ) : (
          <span class={css.small}>never on the bench</span>
        )}
      </a>
    </li>
  );
}
