import type { State } from "../../api/types";
import { Card } from "../../components/Card";
import { Empty } from "../../components/Empty";
import { plural } from "../../lib/format";
import { narrow } from "../../lib/narrow";
import type { Layout } from "../../store";
import { NodeCards } from "./NodeCards";
import { NodeTable } from "./NodeTable";
import { Strangers } from "./Strangers";

export function NodesPage({ layout, state }: { layout: Layout; state: State }) {
  const online = state.nodes.filter((n) => n.online).length;
  return (
    <>
      <Card
        title="Nodes of the floor file"
        aside={state.nodes.length > 0 ? `${online} of ${plural(state.nodes.length, "node")} online` : undefined}
      >
        {state.nodes.length === 0 ? (
          <Empty icon="nodes" title={layout.floor.watch_only ? "Watch only" : "No nodes"}>
            The floor file names no nodes, so nothing is sent and nothing is held back: litfloor listens and reckons, and
            the light goes its way without it. Add nodes to the file to have it keep the limits.
          </Empty>
        ) : narrow.value ? (
          <NodeCards state={state} />
        ) : (
          <NodeTable state={state} />
        )}
      </Card>
      <Strangers strangers={state.strangers} />
    </>
  );
}
