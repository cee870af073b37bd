import type { Stranger } from "../../api/types";
import { Card } from "../../components/Card";
import table from "../../components/table.module.css";
import { ago } from "../../lib/format";

/** Nodes that answer but are not in the file: a new one, or one with a wrong address. */
export function Strangers({ strangers }: { strangers: Stranger[] }) {
  return (
    <Card title="Others that answered">
      {strangers.length === 0 ? (
        <p class={table.small}>No node outside the floor file has answered a poll.</p>
      ) : (
        <>
          <p class={table.lead}>They are not in the floor file; nothing is sent to them.</p>
          <table class={table.table}>
            <thead>
              <tr>
                <th scope="col">Address</th>
                <th scope="col">Short name</th>
                <th scope="col" class={table.number}>
                  Last reply
                </th>
              </tr>
            </thead>
            <tbody>
              {strangers.map((s) => (
                <tr key={s.address}>
                  <th scope="row">{s.address}</th>
                  <td>{s.short_name || "–"}</td>
                  <td class={table.number}>{ago(s.last_reply_s)}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </>
      )}
    </Card>
  );
}
