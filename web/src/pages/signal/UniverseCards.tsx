import type { UniverseState } from "../../api/types";
import table from "../../components/table.module.css";
import { ago, plural, rate } from "../../lib/format";
import { Fact } from "../floor/Fact";
import css from "./signal.module.css";
import { UniverseName, UniverseSources, UniverseStates } from "./parts";

/** On a phone those that need someone come first, and what can be said in one line is folded. */
export function UniverseCards({ universes }: { universes: UniverseState[] }) {
  const unseen = universes.filter((u) => u.mapped && u.age_s === null);
  const well = universes.filter(isWell);
  const others = universes.filter((u) => !unseen.includes(u) && !well.includes(u));
  return (
    <>
      {others.length > 0 && <Cards universes={others} />}
      <Fold universes={unseen} one="has not been seen yet" many="have not been seen yet" />
      <Fold universes={well} one="arrives as it should" many="arrive as they should" />
    </>
  );
}

function isWell(u: UniverseState): boolean {
  return u.mapped && u.age_s !== null && !u.lost && !u.merging && !u.sources.some((source) => source.ignored);
}

function Fold({ universes, one, many }: { universes: UniverseState[]; one: string; many: string }) {
  if (universes.length === 0) return null;
  return (
    <details class={css.all}>
      <summary>
        {plural(universes.length, "universe")} {universes.length === 1 ? one : many}
      </summary>
      <Cards universes={universes} />
    </details>
  );
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
