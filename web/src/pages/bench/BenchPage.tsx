import { useState } from "preact/hooks";
import type { State } from "../../api/types";
import { Card } from "../../components/Card";
import { Empty } from "../../components/Empty";
import { Sections } from "../../components/Sections";
import { argument } from "../../lib/route";
import type { Layout } from "../../store";
import { type Bench, Setup } from "./Setup";
import { Test } from "./Test";

/** One panel on one port: every light that it should show, and pass or fail into the book. */
export function BenchPage({ layout, state }: { layout: Layout; state: State }) {
  const { floor } = layout;
  // A panel that comes from its own page is mostly tested where it lies; any other hangs at the first place.
  const lies = floor.panels.find(({ serial }) => serial !== "" && serial === argument.value) ?? floor.panels[0];
  const [bench, setBench] = useState<Bench>({ position: lies?.position ?? "", serial: argument.value });
  const [begun, setBegun] = useState(false);
  const panel = floor.panels.find((one) => one.position === bench.position);
  if (floor.watch_only) {
    return (
      <>
        <Sections />
        <Card title="Bench">
          <Empty icon="test" title="Watch only">
            The floor file names no nodes, so litfloor sends nothing and can light nothing. Add nodes to the file to test panels.
          </Empty>
        </Card>
      </>
    );
  }
  return (
    <>
      <Sections />
      {begun && panel ? (
        <Test key={bench.serial} panel={panel} serial={bench.serial} state={state} onLeave={() => setBegun(false)} onNext={() => (setBench({ ...bench, serial: "" }), setBegun(false))} />
      ) : (
        <Setup floor={floor} sensors={state.sensors} bench={bench} onChange={setBench} onBegun={() => setBegun(true)} />
      )}
    </>
  );
}
