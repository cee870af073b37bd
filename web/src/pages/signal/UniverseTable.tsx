import type { UniverseState } from "../../api/types";
import table from "../../components/table.module.css";
import { ago, rate } from "../../lib/format";
import { UniverseName, UniverseSources, UniverseStates } from "./parts";

export function UniverseTable({ universes }: { universes: UniverseState[] }) {
  return (
    <table class={table.table}>
      <thead>
        <tr>
          <th scope="col">Port-Address</th>
          <th scope="col">State</th>
          <th scope="col" class={table.number}>
            Rate
          </th>
          <th scope="col" class={table.number}>
            Last frame
          </th>
          <th scope="col" class={table.number}>
            Slots
          </th>
          <th scope="col">Sources</th>
        </tr>
      </thead>
      <tbody>
        {universes.map((u) => (
          <tr key={u.port_address}>
            <th scope="row">
              <UniverseName portAddress={u.port_address} />
            </th>
            <td>
              <UniverseStates universe={u} />
            </td>
            <td class={table.number}>{rate(u.fps)}</td>
            <td class={table.number}>{ago(u.age_s)}</td>
            <td class={table.number}>{u.slots}</td>
            <td>
              <UniverseSources universe={u} />
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}
