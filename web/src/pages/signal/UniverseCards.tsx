import type { UniverseState } from "../../api/types";
import table from "../../components/table.module.css";
import { ago, plural, rate } from "../../lib/format";
import { Fact } from "../floor/Fact";
import css from "./signal.module.css";
import { UniverseName, UniverseSources, UniverseStates } from "./parts";

/** On a phone those that need someone come first, and the rest is folded. */
export function UniverseCards({ universes }: { universes: UniverseState[] }) {
  const well = universes.filter(isWell);
  const others = universes.filter((u) => !isWell(u));
  return (
    <>
      {others.length > 0 && <Cards universes={others} />}
      {well.length > 0 && (
        <details class={css.all}>
          <summary>
            {plural(well.length, "universe")} {well.length === 1 ? "arrives" : "arrive"} as {well.length === 1 ? "it" : "they"} should
          </summary>
          <Cards universes={well} />
        </details>
      )}
    </>
  );
}

function isWell(u: UniverseState): boolean {
  return u.mapped && u.age_s !== null && !u.lost && !u.merging && !u.sources.some((source) => source.ignored);
}

function Cards({ universes }: { universes: UniverseState[] }) {
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
