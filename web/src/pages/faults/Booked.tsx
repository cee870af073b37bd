import { useState } from "preact/hooks";
import { type BookFault, bookFaults, type BookStep, stepFault } from "../../api/book";
import type { Health } from "../../api/health";
import { ActionButton } from "../../components/ActionButton";
import { Barrier, barred } from "../../components/Barrier";
import { Card } from "../../components/Card";
import { FailureNote } from "../../components/FailureNote";
import { Icon } from "../../components/Icon";
import { NotForGuests } from "../../components/NotForGuests";
import { Status } from "../../components/Status";
import { TextField } from "../../components/TextField";
import { useAction } from "../../components/useWatched";
import { nobody, WhoField } from "../../components/WhoField";
import { closedFirst, lastAt, moment, nextSteps, stageLook } from "../../lib/book";
import { bookedAs, walkingOrder } from "../../lib/faults";
import { hashOf } from "../../lib/route";
import { who } from "../../lib/who";
import { guest } from "../../store";
import buttons from "../../components/button.module.css";
import css from "./FaultList.module.css";

interface BookedProps {
  fault: BookFault;
  /** Where it stands that nobody has said who works, and where why nothing can be changed. */
  lacksId: string;
  barrierId: string;
  onPanel?: boolean;
}

/** How a fault's repair stands, and the buttons that take it on. */
export function Booked({ fault, lacksId, barrierId, onPanel = false }: BookedProps) {
  const action = useAction();
  const [note, setNote] = useState("");
  const look = stageLook(fault.state);
  const lacks = nobody();
  return (
    <div class={css.book} data-stage={fault.state}>
      <p class={css.facts}>
        <Status icon={look.icon} tone={look.tone}>
          {look.word}
        </Status>
        <span>in the book since {moment(fault.found_at)}</span>
      </p>
      {fault.state === "repaired" && (
        <p class={css.small}>
          Only a survey proves it.{" "}
          {fault.position !== null && !guest.value && (
            <a class={css.button} href={hashOf("survey", fault.position)}>
              <Icon name="search" /> Prove it by a survey of {fault.position}
            </a>
          )}
        </p>
      )}
      <details class={css.more}>
        <summary>{guest.value ? "Steps" : "Steps and note"}</summary>
        <Steps steps={fault.steps} />
        <NotForGuests>
          <TextField label="Note (if you like)" value={note} onText={setNote} long />
        </NotForGuests>
      </details>
      <div class={css.buttons}>
        {nextSteps(fault.state).map(({ state, word }, at) => (
          <ActionButton
            key={state}
            action={action}
            look={at === 0 ? "main" : "plain"}
            waiting="Writing…"
            blocked={lacks !== null || barred() !== null}
            reasonId={lacks ? lacksId : barrierId}
            onRun={() => void stepFault(action, fault.id, state, who.value.trim(), note.trim(), onPanel).then((done) => done && setNote(""))}
          >
            {word}
          </ActionButton>
        ))}
      </div>
      <FailureNote action={action} />
    </div>
  );
}

export function Steps({ steps }: { steps: readonly BookStep[] }) {
  return (
    <ol class={css.steps}>
      {steps.map((step, at) => (
        <li key={at}>
          {moment(step.at)}: <b>{stageLook(step.state).word}</b>
          {step.who && `, ${step.who}`}
          {step.note && ` – ${step.note}`}
          {step.evidence && ` (${step.evidence})`}
        </li>
      ))}
    </ol>
  );
}

/** Faults of the book that nothing tells of now: repaired, written by hand, or of a panel that is away. */
export function OnlyInBook({ health }: { health: Health }) {
  const book = bookFaults.value.value ?? [];
  const seen = new Set(health.faults.map((fault) => bookedAs(fault, book)));
  const rest = book.filter((fault) => fault.open && !seen.has(fault));
  if (rest.length === 0) return null;
  rest.sort((a, b) => walkingOrder(a.position, b.position));
  // Who writes is asked once on the page: where there are faults, it stands above them.
  const above = health.faults.length > 0;
  return (
    <Card title="In the book, not seen now" aside="Repaired, written by hand, or not lit lately">
      {!above && <WhoField lacksId="faults-who" />}
      {!above && <Barrier id="faults-barrier" />}
      <ol class={css.list}>
        {rest.map((fault) => (
          <li key={fault.id} class={css.row} data-tone={stageLook(fault.state).tone} data-booked={fault.id}>
            <Heading fault={fault} />
            <Booked fault={fault} lacksId="faults-who" barrierId="faults-barrier" />
          </li>
        ))}
      </ol>
    </Card>
  );
}

export function Heading({ fault }: { fault: BookFault }) {
  return (
    <div class={css.head}>
      <span class={css.position}>{fault.position ?? "–"}</span>
      <div>
        <h3 class={css.place}>{placeName(fault)}</h3>
        <p>{fault.text}</p>
      </div>
    </div>
  );
}

/** Where it is; what was written of a whole panel has no other place than that. */
function placeName({ place, position, serial }: BookFault): string {
  if (place !== "" && place !== position) return place;
  return serial ? `Panel ${serial}` : "The whole panel";
}

const SHOWN = 20;

/** What was closed, the newest first. */
export function History() {
  const [all, setAll] = useState(false);
  const book = bookFaults.value.value;
  const failure = bookFaults.failure.value;
  if (!book) {
    return (
      <Card title="Closed faults">
        <p class={css.small}>{failure ? failure.text : "Asking the book…"}</p>
      </Card>
    );
  }
  const closed = closedFirst(book);
  return (
    <Card title="Closed faults">
      {closed.length === 0 ? (
        <p class={css.small}>None yet. A fault closes when a survey proves its place good, or when somebody dismisses it.</p>
      ) : (
        <ul class={css.closed}>
          {(all ? closed : closed.slice(0, SHOWN)).map((fault) => (
            <li key={fault.id}>
              <details class={css.more}>
                <summary>
                  <span>
                    {fault.place || fault.serial} – {stageLook(fault.state).word}, {moment(lastAt(fault))}
                  </span>
                </summary>
                <p class={css.small}>{fault.text}</p>
                <Steps steps={fault.steps} />
                {fault.serial && <a class={css.button} href={hashOf("panel", fault.serial)}>History of panel {fault.serial}</a>}
              </details>
            </li>
          ))}
        </ul>
      )}
      {closed.length > SHOWN && !all && (
        <button type="button" class={buttons.solid} onClick={() => setAll(true)}>
          Show all {closed.length}
        </button>
      )}
    </Card>
  );
}
