import type { State } from "../../api/types";
import table from "../../components/table.module.css";
import { count } from "../../lib/format";
import { Fact } from "../floor/Fact";
import { NodeAnswer, NodeName, NodePorts, NodeSends } from "./parts";

export function NodeCards({ state }: { state: State }) {
  return (
    <ul class={table.cards}>
      {state.nodes.map((node) => (
        <li key={node.name}>
          <div class={table.cardHead}>
            <NodeName node={node} />
            <NodeAnswer node={node} uptime_s={state.uptime_s} />
          </div>
          <dl class={table.facts}>
            <Fact name="Long name">{node.long_name || "–"}</Fact>
            <Fact name="Short name">{node.short_name || "–"}</Fact>
            <Fact name="Firmware">{node.firmware || "–"}</Fact>
            <Fact name="Frames sent">{count(node.frames_out)}</Fact>
            <Fact name="Its ports" wide>
              <NodePorts node={node} />
            </Fact>
            <Fact name="We send" wide>
              <NodeSends node={node} />
            </Fact>
            <Fact name="Report" wide>
              {node.report || "–"}
            </Fact>
          </dl>
        </li>
      ))}
    </ul>
  );
}
