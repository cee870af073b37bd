import type { BookFault } from "../../api/book";
import type { Health } from "../../api/health";
import { Barrier } from "../../components/Barrier";
import { Card } from "../../components/Card";
import { Empty } from "../../components/Empty";
import { Icon } from "../../components/Icon";
import { NotForGuests } from "../../components/NotForGuests";
import { FAULTS_CSV } from "../../api/book";
import { bookedAs, nothingFound } from "../../lib/faults";
import { plural } from "../../lib/format";
import { hashOf } from "../../lib/route";
import { guest, hasBook } from "../../store";
import { WhoField } from "../../components/WhoField";
import { FaultRow } from "./FaultRow";
import action from "../../components/ActionButton.module.css";
import buttons from "../../components/button.module.css";
import css from "./FaultList.module.css";

interface Props {
  health: Health;
  /** Undefined as long as the book has not answered. */
  book: readonly BookFault[] | undefined;
}

/** Every fault that is known now, in the order in which one walks the floor. */
export function FaultList({ health, book }: Props) {
  const { faults } = health;
  return (
    <Card title="Faults" aside={faults.length > 0 ? `${plural(faults.length, "fault")}, in walking order` : undefined}>
      {faults.length === 0 ? (
        <Nothing health={health} />
      ) : (
        <>
          <Ways />
          {hasBook.value && <WhoField lacksId="faults-who" />}
          <Barrier id="faults-barrier" />
          <ol class={css.list} aria-label="Faults in walking order">
            {faults.map((fault) => (
              <FaultRow
                key={fault.key}
                fault={fault}
                booked={book && bookedAs(fault, book)}
                bookKnown={book !== undefined}
                seenForS={Math.max(0, health.uptime_s - fault.since_s)}
              />
            ))}
          </ol>
        </>
      )}
    </Card>
  );
}

/** The list on paper and as a table. */
function Ways() {
  return (
    <div class={css.ways}>
      <button type="button" class={buttons.solid} onClick={() => window.print()}>
        <Icon name="print" /> Print the walking list
      </button>
      {hasBook.value && !guest.value && (
        <a class={`${buttons.solid} ${css.link}`} href={FAULTS_CSV} download>
          <Icon name="down" /> Book as CSV
        </a>
      )}
    </div>
  );
}

function Nothing({ health }: { health: Health }) {
  const { known, title, text } = nothingFound(health);
  return (
    <div class={css.nothing} data-known={known}>
      <Empty icon={known ? "ok" : "info"} title={title}>
        {text}
      </Empty>
      <NotForGuests>
        <a class={`${buttons.solid} ${action.main} ${css.link}`} href={hashOf("survey")}>
          <Icon name="search" /> {known ? "Make another survey" : "Make a survey"}
        </a>
      </NotForGuests>
    </div>
  );
}
