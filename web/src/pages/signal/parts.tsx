/** The cells of a universe, the same in the table and on a card. */
import type { UniverseState } from "../../api/types";
import { Status } from "../../components/Status";
import table from "../../components/table.module.css";
import { ago } from "../../lib/format";
import css from "./signal.module.css";

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
  if (universe.sources.length === 0) return <span class={table.small}>none</span>;
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
