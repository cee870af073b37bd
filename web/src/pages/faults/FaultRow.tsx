import type { BookFault } from "../../api/book";
import { type EvidenceRow, type FoundFault, withdraw } from "../../api/health";
import { ActionButton } from "../../components/ActionButton";
import { barred } from "../../components/Barrier";
import { FailureNote } from "../../components/FailureNote";
import { LightThis } from "../../components/LightThis";
import { Status } from "../../components/Status";
import { useAction } from "../../components/useWatched";
import { causeWord, evidenceWord, markOf, sureLook, sureWords } from "../../lib/faults";
import { ago, duration, plural } from "../../lib/format";
import { hashOf } from "../../lib/route";
import { guest, hasBook } from "../../store";
import { Booked } from "./Booked";
import css from "./FaultList.module.css";

interface Props {
  fault: FoundFault;
  booked: BookFault | undefined;
  bookKnown: boolean;
  seenForS: number;
}

/** One fault: where to go, what it is, how sure that is and why, and how its repair stands. */
export function FaultRow({ fault, booked, bookKnown, seenForS }: Props) {
  const { position, behind } = fault;
  // The book knows which panel lies there even where the floor file does not yet.
  const serial = booked?.serial ?? fault.serial;
  const look = sureLook(fault.sure);
  return (
    <li class={css.row} data-tone={look.tone} data-fault={fault.key}>
      <div class={css.head}>
        <span class={css.position}>{position ?? markOf(fault.cause).letter}</span>
        <div>
          <h3 class={css.place}>{fault.place}</h3>
          <p>
            <span class={css.cause}>{causeWord(fault.cause)}.</span> {fault.effect}
            {behind.length > 0 && ` Behind it: ${behind.length > 8 ? plural(behind.length, "panel") : behind.join(", ")}.`}
          </p>
        </div>
      </div>
      <p class={css.facts}>
        <Status icon={look.icon} tone={look.tone}>
          {sureWords(fault)}
        </Status>
        <span>seen for {duration(seenForS)}</span>
        {serial && (
          <span>
            panel {hasBook.value ? <a href={hashOf("panel", serial)} class={css.inText}>{serial}</a> : serial}
          </span>
        )}
      </p>
      {fault.alternatives.length > 0 && <p class={css.small}>Or it is: {fault.alternatives.join("; ")}.</p>}
      <div class={css.buttons}>
        {position !== null && <LightThis spot={{ kind: "panel", position }} reasonId="faults-barrier" />}
        {position !== null && !guest.value && (
          <a class={css.button} href={hashOf("survey", position)}>
            Survey this panel
          </a>
        )}
      </div>
      <details class={css.more}>
        <summary>Why: {fault.evidence.length === 1 ? "1 piece of evidence" : `${fault.evidence.length} pieces of evidence`}</summary>
        <ul class={css.evidence}>
          {fault.evidence.map((piece) => (
            <Piece key={piece.id} piece={piece} />
          ))}
        </ul>
      </details>
      {!hasBook.value ? null : booked ? <Booked fault={booked} lacksId="faults-who" barrierId="faults-barrier" /> : <p class={css.small}>{bookKnown ? "Not in the book yet." : "The book has not answered yet."}</p>}
    </li>
  );
}

function Piece({ piece }: { piece: EvidenceRow }) {
  const action = useAction();
  return (
    <li class={css.piece}>
      <span>
        <b>{evidenceWord(piece.kind)}</b>, {ago(piece.age_s)}: {piece.text}
      </span>
      {piece.can_withdraw && (
        <ActionButton action={action} waiting="Withdrawing…" blocked={barred() !== null} reasonId="faults-barrier" onRun={() => void withdraw(action, piece.id)}>
          Withdraw
        </ActionButton>
      )}
      <FailureNote action={action} />
    </li>
  );
}
