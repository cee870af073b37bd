/** The cells of a universe, the same in the table and on a card. */
import type { UniverseState } from "../../api/types";
import { Status } from "../../components/Status";
import table from "../../components/table.module.css";
import { flatNumber, flatTitle } from "../../lib/address";
import { ago } from "../../lib/format";
import { lastSources } from "../../store";
import css from "./signal.module.css";

/** `0:1:2` and the number that many programs give it. */
export function UniverseName({ portAddress }: { portAddress: string }) {
  const flat = flatNumber(portAddress);
  return (
    <>
      {portAddress}
      {flat !== null && (
        <span class={css.flat} title={flatTitle(flat)}>
          no. {flat}
        </span>
      )}
    </>
  );
}

export function UniverseStates({ universe: u }: { universe: UniverseState }) {
  return (
    <span class={css.states}>
      {!u.mapped ? (
        <Status icon="info" tone="info">
          not in the file
        </Status>
      ) : u.age_s === null ? (
        <Status icon="wait" tone="info">
          not seen yet
        </Status>
      ) : u.lost ? (
        <Status icon="danger" tone="danger">
          lost
        </Status>
      ) : (
        <Status icon="ok" tone="good">
          arrives
        </Status>
      )}
      {u.merging && (
        <Status icon="warning" tone="warning">
          two sources merged
        </Status>
      )}
      {u.synced && (
        <Status icon="link" tone="quiet">
          waits for sync
        </Status>
      )}
    </span>
  );
}

export function UniverseSources({ universe }: { universe: UniverseState }) {
  if (universe.sources.length === 0) {
    const last = lastSources.get(universe.port_address);
    return <span class={table.small}>{last ? `none now, last ${last}` : "none"}</span>;
  }
  return (
    <ul class={css.sources}>
      {universe.sources.map((source) => (
        <li key={`${source.address} ${source.physical}`}>
          {source.address}{" "}
          <span class={table.small}>
            physical port {source.physical}, {ago(source.age_s)}
          </span>
          {source.ignored && (
            <>
              {" "}
              <Status icon="cross" tone="warning">
                ignored, the third
              </Status>
            </>
          )}
        </li>
      ))}
    </ul>
  );
}
