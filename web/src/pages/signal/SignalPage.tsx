import type { State } from "../../api/types";
import { Card } from "../../components/Card";
import { Empty } from "../../components/Empty";
import { count, plural } from "../../lib/format";
import { narrow } from "../../lib/narrow";
import type { Layout } from "../../store";
import { Rules } from "./Rules";
import { Refused } from "./Refused";
import { UniverseCards } from "./UniverseCards";
import { UniverseTable } from "./UniverseTable";

export function SignalPage({ layout, state }: { layout: Layout; state: State }) {
  const mapped = state.universes.filter((u) => u.mapped);
  const alive = mapped.filter((u) => u.age_s !== null && !u.lost);
  return (
    <>
      {state.signal === "waiting" && (
        <Card title="Waiting for the console">
          <Empty icon="wait" title="Nothing has arrived yet">
            Set the console's Art-Net target to this machine's address, port {state.artnet?.split(":").at(-1) ?? 6454}. The floor listens to{" "}
            {plural(layout.floor.universes.length, "universe")}
            {layout.floor.universes[0] ? `, the first is ${layout.floor.universes[0].port_address}` : ""}.
          </Empty>
        </Card>
      )}
      <Card title="Universes" aside={`${alive.length} of ${mapped.length} mapped ones arrive`}>
        {state.universes.length === 0 ? (
          <Empty icon="signal" title="No universe">
            The floor file maps none and none has been seen.
          </Empty>
        ) : narrow.value ? (
          <UniverseCards universes={state.universes} />
        ) : (
          <UniverseTable universes={state.universes} />
        )}
      </Card>
      <Rules floor={layout.floor} />
      <Refused refused={state.frames_refused} datagrams={state.datagrams} taken={count(state.frames_in)} />
    </>
  );
}
