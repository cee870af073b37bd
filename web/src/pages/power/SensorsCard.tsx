import type { State } from "../../api/types";
import { Card } from "../../components/Card";
import { Empty } from "../../components/Empty";
import { guest, watchOnly } from "../../store";
import { Calibration } from "./Calibration";
import { ReadingsToken } from "./ReadingsToken";
import { SensorRow } from "./SensorRow";
import css from "./SensorsCard.module.css";

/** What is measured, beside what is computed at the same place. */
export function SensorsCard({ state, simulated }: { state: State; simulated: boolean }) {
  if (state.sensors.length === 0 && guest.value) return null;
  if (state.sensors.length === 0) {
    return (
      <Card title="Sensors">
        <Empty icon="signal" title="No sensor in the floor file">
          With a current sensor litfloor sees what the floor really draws. Add a [[sensor]] to the floor file, for example with
          supply = "main", and let it report to /api/v1/readings or to an MQTT topic.
        </Empty>
      </Card>
    );
  }
  return (
    <Card title="Sensors">
      {simulated && <p class={css.lead}>These sensors are simulated, like the floor.</p>}
      <p class={css.lead}>
        {watchOnly.value
          ? "Measured values are only shown here, beside the computed ones."
          : "Measured values only ever make the cap stricter. No sensor raises a limit."}
      </p>
      <ul class={css.list} aria-label="Sensors">
        {state.sensors.map((sensor) => (
          <SensorRow key={sensor.name} sensor={sensor} />
        ))}
      </ul>
      {!watchOnly.value && <Calibration state={state} />}
      <ReadingsToken />
    </Card>
  );
}
