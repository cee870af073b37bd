import type { State } from "../../api/types";
import { Card } from "../../components/Card";
import { Empty } from "../../components/Empty";
import { type Layout, pattern } from "../../store";
import { ChoiceForm } from "./ChoiceForm";
import { Running } from "./Running";
import { SimulationCard } from "./SimulationCard";
import { WalkCard } from "./WalkCard";

export function TestPage({ layout }: { layout: Layout; state: State }) {
  const { floor } = layout;
  const on = pattern.value;
  if (floor.watch_only) {
    return (
      <Card title="Test patterns">
        <Empty icon="test" title="Watch only">
          The floor file names no nodes, so litfloor sends nothing and can light nothing. Add nodes to the file to test the
          wiring with patterns.
        </Empty>
      </Card>
    );
  }
  return (
    <>
      {on && <Running floor={floor} on={on} />}
      <WalkCard />
      <ChoiceForm floor={floor} another={on !== null} />
      {floor.simulated && <SimulationCard floor={floor} />}
    </>
  );
}
