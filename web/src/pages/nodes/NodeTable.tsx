import type { State } from "../../api/types";
import table from "../../components/table.module.css";
import { count } from "../../lib/format";
import { NodeAnswer, NodeName, NodePorts, NodeSends } from "./parts";

export function NodeTable({ state }: { state: State }) {
  return (
    <table class={table.table}>
      <thead>
        <tr>
          <th scope="col">Node</th>
          <th scope="col">Answers</th>
          <th scope="col">Says of itself</th>
          <th scope="col" class={table.third}>
            Its ports
          </th>
          <th scope="col">We send</th>
          <th scope="col" class={table.number}>
            Frames sent
          </th>
        </tr>
      </thead>
      <tbody>
        {state.nodes.map((node) => (
          <tr key={node.name}>
            <th scope="row">
              <NodeName node={node} />
            </th>
            <td>
              <NodeAnswer node={node} uptime_s={state.uptime_s} />
            </td>
            <td>
              {node.long_name || node.short_name || "–"}
              <div class={table.small}>
                {[node.short_name && `short name ${node.short_name}`, node.firmware && `firmware ${node.firmware}`]
                  .filter(Boolean)
                  .join(", ")}
              </div>
              {node.report && <div class={table.small}>report: {node.report}</div>}
            </td>
            <td>
              <NodePorts node={node} />
            </td>
            <td>
              <NodeSends node={node} />
            </td>
            <td class={table.number}>{count(node.frames_out)}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}
