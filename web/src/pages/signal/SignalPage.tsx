import type { State, UniverseState } from "../../api/types";
import { Card } from "../../components/Card";
import { Empty } from "../../components/Empty";
import { count } from "../../lib/format";
import { narrow } from "../../lib/narrow";
import type { Layout } from "../../store";
import { Missing } from "./Missing";
import { Rules } from "./Rules";
import { Refused } from "./Refused";
import { UniverseCards } from "./UniverseCards";
import { UniverseTable } from "./UniverseTable";

export function SignalPage({ layout, state }: { layout: Layout; state: State }) {
  const mapped = state.universes.filter((u) => u.mapped);
  const alive = mapped.filter((u) => u.age_s !== null && !u.lost);
  const universes = alive.length === 0 ? strangersFirst(state.universes) : state.universes;
  return (
    <>
      {alive.length === 0 && <Missing floor={layout.floor} state={state} />}
      <Card title="Universes" aside={`${alive.length} of ${mapped.length} mapped ones arrive`}>
        {universes.length === 0 ? (
          <Empty icon="signal" title="No universe">
            The floor file maps none and none has been seen.
          </Empty>
        ) : narrow.value ? (
          <UniverseCards universes={universes} />
        ) : (
          <UniverseTable universes={universes} />
        )}
      </Card>
      <Rules floor={layout.floor} />
      <Refused refused={state.frames_refused} datagrams={state.datagrams} taken={count(state.frames_in)} />
    </>
  );
}

/** When nothing mapped arrives, what does arrive is the clue. */
function strangersFirst(universes: UniverseState[]): UniverseState[] {
  return [...universes.filter((u) => !u.mapped), ...universes.filter((u) => u.mapped)];
}
