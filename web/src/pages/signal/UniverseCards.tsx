import type { UniverseState } from "../../api/types";
import table from "../../components/table.module.css";
import { ago, rate } from "../../lib/format";
import { Fact } from "../floor/Fact";
import css from "./signal.module.css";
import { UniverseName, UniverseSources, UniverseStates } from "./parts";

export function UniverseCards({ universes }: { universes: UniverseState[] }) {
  return (
    <ul class={table.cards}>
      {universes.map((u) => (
        <li key={u.port_address}>
          <div class={table.cardHead}>
            <h3>
              <UniverseName portAddress={u.port_address} />
            </h3>
            <UniverseStates universe={u} />
          </div>
          <dl class={css.short}>
            <Fact name="Rate">{rate(u.fps)}</Fact>
            <Fact name="Last frame">{ago(u.age_s)}</Fact>
            <Fact name="Slots">{String(u.slots)}</Fact>
            <Fact name="Sources" wide>
              <UniverseSources universe={u} />
            </Fact>
          </dl>
        </li>
      ))}
    </ul>
  );
}
