import type { BookPanel } from "../../api/book";
import { Barrier } from "../../components/Barrier";
import { Card } from "../../components/Card";
import { Status } from "../../components/Status";
import { WhoField } from "../../components/WhoField";
import { closedFirst, lastAt, moment, signatureWords, stageLook } from "../../lib/book";
import { Booked, Heading, Steps } from "../faults/Booked";
import list from "../faults/FaultList.module.css";
import css from "./PanelPage.module.css";

/** Open faults with what can be done, closed ones with their steps. */
export function Faults({ book }: { book: BookPanel }) {
  const open = book.faults.filter((fault) => fault.open);
  const closed = closedFirst(book.faults);
  return (
    <Card title="Faults">
      {book.faults.length === 0 && <p class={css.small}>None was ever found.</p>}
      {open.length > 0 && (
        <>
          <WhoField lacksId="faults-who" />
          <Barrier id="faults-barrier" />
          <ol class={list.list}>
            {open.map((fault) => (
              <li key={fault.id} class={list.row} data-tone={stageLook(fault.state).tone}>
                <Heading fault={fault} />
                <Booked fault={fault} lacksId="faults-who" barrierId="faults-barrier" onPanel />
              </li>
            ))}
          </ol>
        </>
      )}
      {closed.map((fault) => (
        <details key={fault.id} class={list.more}>
          <summary>
            <span>
              {fault.place} – {stageLook(fault.state).word}, {moment(lastAt(fault))}
            </span>
          </summary>
          <p class={css.small}>{fault.text}</p>
          <Steps steps={fault.steps} />
        </details>
      ))}
    </Card>
  );
}

export function Benches({ book }: { book: BookPanel }) {
  const newest = [...book.benches].sort((a, b) => b.at.localeCompare(a.at));
  return (
    <Card title="Bench tests">
      {newest.length === 0 ? (
        <p class={css.small}>It was never on the bench.</p>
      ) : (
        <ul class={css.list}>
          {newest.map((bench, at) => (
            <li key={at}>
              <Status icon={bench.passed ? "ok" : "cross"} tone={bench.passed ? "good" : "danger"}>
                {bench.passed ? "Passed" : "Failed"}
              </Status>{" "}
              {moment(bench.at)}, {bench.who}
              {bench.note && ` – ${bench.note}`}
              {bench.signature && <p class={css.small}>Measured: {signatureWords(bench.signature)}.</p>}
            </li>
          ))}
        </ul>
      )}
    </Card>
  );
}

export function Positions({ book }: { book: BookPanel }) {
  const newest = [...book.positions].sort((a, b) => b.from.localeCompare(a.from));
  return (
    <Card title="Where it lay">
      {newest.length === 0 ? (
        <p class={css.small}>It was never placed by its serial.</p>
      ) : (
        <ul class={css.list}>
          {newest.map((place, at) => (
            <li key={at}>
              <b>{place.position}</b> from {moment(place.from)} {place.to === null ? "until now" : `to ${moment(place.to)}`}
              {place.who && `, placed by ${place.who}`}
            </li>
          ))}
        </ul>
      )}
    </Card>
  );
}
