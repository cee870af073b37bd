import type { State } from "../../api/types";
import { Card } from "../../components/Card";
import { Empty } from "../../components/Empty";
import { WatchOnly } from "../../components/WatchOnly";
import { Words } from "../../components/Words";
import { percent } from "../../lib/format";
import { tree } from "../../lib/loads";
import type { Layout } from "../../store";
import { BarKey } from "./BarKey";
import { Caution } from "./Caution";
import { FloorLimit } from "./FloorLimit";
import { HistoryCard } from "./HistoryCard";
import { LoadTree } from "./LoadTree";
import { VoltageCard } from "./VoltageCard";
import { TotalsCard } from "./TotalsCard";
import { SensorsCard } from "./SensorsCard";
import css from "./PowerPage.module.css";

export function PowerPage({ layout, state }: { layout: Layout; state: State }) {
  const branches = tree(state, layout.floor);
  return (
    <>
      <Caution />
      {layout.floor.watch_only && (
        <div class={css.note}>
          <WatchOnly />
        </div>
      )}
      <FloorLimit now={state.floor} />
      <Card title="Circuits, supplies, feeds, panels" aside={<BarKey margin={percent(layout.floor.cap.margin)} />}>
        {branches.length > 0 ? (
          <>
            <Words />
            <LoadTree branches={branches} />
          </>
        ) : (
          <Empty icon="power" title="No circuit in the floor file">
            Without circuits, supplies and feeds nothing can be summed.
          </Empty>
        )}
      </Card>
      <VoltageCard floor={layout.floor} state={state} />
      <SensorsCard state={state} simulated={layout.floor.simulated} />
      <HistoryCard state={state} />
      <TotalsCard />
    </>
  );
}
