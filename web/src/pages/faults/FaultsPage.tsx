import { useMemo, useState } from "preact/hooks";
import { bookFaults } from "../../api/book";
import { health } from "../../api/health";
import type { State } from "../../api/types";
import { Card } from "../../components/Card";
import { Sections } from "../../components/Sections";
import { Stale, Unseen } from "../../components/Unseen";
import { useWatched } from "../../components/useWatched";
import { guest, hasBook, type Layout } from "../../store";
import { FaultList } from "./FaultList";
import { FaultPlan } from "./FaultPlan";
import { History, OnlyInBook } from "./Booked";
import { PrintList } from "./PrintList";
import { WriteFault } from "./WriteFault";
import css from "./FaultsPage.module.css";

/** Ages on the page grow by themselves; so often they are asked anew. */
const EVERY_MS = 10_000;

/** What is dead, where to walk, and how the repairs stand. States come often, and change nothing here. */
export function FaultsPage({ layout }: { layout: Layout; state: State }) {
  return useMemo(() => <Page layout={layout} />, [layout]);
}

function Page({ layout }: { layout: Layout }) {
  useWatched(health, EVERY_MS);
  useWatched(hasBook.value ? bookFaults : null, EVERY_MS);
  const [chosen, setChosen] = useState<string | null>(null);
  const known = health.value.value;
  if (!known) {
    return (
      <>
        <Sections />
        <Card title="Faults">
          <Unseen watched={health} what="What is known to be dead." />
        </Card>
      </>
    );
  }
  const book = bookFaults.value.value;
  return (
    <>
      <div class={css.screen}>
        <Sections />
        <Stale watched={health} />
        <div class={css.parts}>
          <div class={css.plan}>
            <FaultPlan layout={layout} health={known} chosen={chosen} onPick={setChosen} />
          </div>
          <div class={css.list}>
            <FaultList health={known} book={book} />
            <OnlyInBook health={known} />
            {hasBook.value && !guest.value && <WriteFault floor={layout.floor} />}
            {hasBook.value && <History />}
          </div>
        </div>
      </div>
      <PrintList floor={layout.floor} health={known} book={book ?? []} />
    </>
  );
}
