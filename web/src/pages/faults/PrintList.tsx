import type { BookFault } from "../../api/book";
import type { Health } from "../../api/health";
import type { Floor } from "../../api/types";
import { stageLook } from "../../lib/book";
import { bookedAs, causeWord, nothingFound, sureWords, walkingOrder } from "../../lib/faults";
import css from "./PrintList.module.css";

interface Props {
  floor: Floor;
  health: Health;
  book: readonly BookFault[];
}

/** The walking list on paper: nothing of it is seen on the screen. */
export function PrintList({ floor, health, book }: Props) {
  const seen = new Set(health.faults.map((fault) => bookedAs(fault, book)));
  const rest = book.filter((fault) => fault.open && !seen.has(fault)).sort((a, b) => walkingOrder(a.position, b.position));
  const rows = [
    ...health.faults.map((fault) => ({
      id: fault.key, position: fault.position, place: fault.place, serial: fault.serial,
      what: `${causeWord(fault.cause)} (${sureWords(fault)}). ${fault.effect}`,
      other: fault.alternatives, stage: bookedAs(fault, book)?.state,
    })),
    ...rest.map((fault) => ({ id: `b${fault.id}`, position: fault.position, place: fault.place, serial: fault.serial, what: fault.text, other: [], stage: fault.state })),
  ];
  return (
    <section class={css.paper} aria-hidden="true" data-print>
      <h1>{floor.name}: faults, in walking order</h1>
      <p>
        Printed {new Date().toLocaleString("en-GB", { dateStyle: "medium", timeStyle: "short" })}. Computed and inferred, not tested by hand: switch the supply off
        before you work on a joint.
      </p>
      {rows.length === 0 && <p>{nothingFound(health).text}</p>}
      {rows.length > 0 && (
        <table>
          <thead>
            <tr>
              <th>Place</th>
              <th>What</th>
              <th>Repaired</th>
              <th>Lights</th>
              <th>Who, note</th>
            </tr>
          </thead>
          <tbody>
            {rows.map((row) => (
              <tr key={row.id}>
                <td>
                  <b>{row.position ?? "–"}</b>
                  {row.serial && <small>{row.serial}</small>}
                </td>
                <td>
                  <b>{row.place}</b>
                  <br />
                  {row.what}
                  {row.other.length > 0 && <small>Or: {row.other.join("; ")}</small>}
                  {row.stage && <small>Book: {stageLook(row.stage).word}</small>}
                </td>
                <td>
                  <span class={css.box} />
                </td>
                <td>
                  <span class={css.box} />
                </td>
                <td class={css.line} />
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </section>
  );
}
