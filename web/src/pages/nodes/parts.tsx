/** The cells of a node, the same in the table and on a card. */
import type { NodeState } from "../../api/types";
import { Status } from "../../components/Status";
import table from "../../components/table.module.css";
import { inRanges } from "../../lib/address";
import { ago, plural } from "../../lib/format";
import { answerOf } from "../../lib/nodes";
import css from "./parts.module.css";

export function NodeName({ node }: { node: NodeState }) {
  return (
    <span>
      <strong class={css.name}>{node.name}</strong>
      <span class={table.small}> {node.address}</span>
    </span>
  );
}

export function NodeAnswer({ node, uptime_s }: { node: NodeState; uptime_s: number }) {
  const answer = answerOf(node, uptime_s);
  return (
    <span class={css.answer}>
      {answer === "answers" ? (
        <Status icon="ok" tone="good">
          online
        </Status>
      ) : answer === "early" ? (
        <Status icon="wait" tone="quiet">
          waiting for an answer
        </Status>
      ) : answer === "never" ? (
        <Status icon="warning" tone="warning">
          no answer yet
        </Status>
      ) : (
        <Status icon="danger" tone="danger">
          silent
        </Status>
      )}
      <span class={table.small}>
        {answer === "early" ? "" : node.last_reply_s === null ? "never answered" : `last reply ${ago(node.last_reply_s)}`}
      </span>
    </span>
  );
}

export function NodePorts({ node }: { node: NodeState }) {
  if (node.ports.length === 0) return <span class={table.small}>none told</span>;
  const flows = node.online ? "data flows" : "data flowed";
  return (
    <>
      {!node.online && <p class={table.small}>As it said when it last answered, {ago(node.last_reply_s)}:</p>}
      <ul class={css.ports}>
        {node.ports.map((port) => (
          <li key={`${port.direction} ${port.port_address}`} class={css.port}>
            <span>{port.port_address}</span>
            {port.short_circuit ? (
              <Status icon="danger" tone="danger">
                short circuit
              </Status>
            ) : (
              <span class={table.small}>
                {port.direction}, {port.active ? flows : "no data"}
              </span>
            )}
          </li>
        ))}
      </ul>
    </>
  );
}

export function NodeSends({ node }: { node: NodeState }) {
  return (
    <>
      <span class={css.list}>{inRanges(node.sends) || "nothing"}</span>
      {node.not_listed.length > 0 && (
        <p class={css.warn}>
          <Status icon="warning" tone="warning">
            Not among its outputs:
          </Status>{" "}
          {inRanges(node.not_listed)}. Set the node's start universe.
        </p>
      )}
      {node.send_errors > 0 && (
        <p class={css.warn}>
          <Status icon="warning" tone="warning">
            Could not be sent:
          </Status>{" "}
          {plural(node.send_errors, "frame")}
          {node.last_send_error_s !== null && `, last ${ago(node.last_send_error_s)}`}
        </p>
      )}
    </>
  );
}
