import { useId } from "preact/hooks";
import { start, starting } from "../../api/pattern";
import type { Floor, SensorState } from "../../api/types";
import { Card } from "../../components/Card";
import { CautionBox } from "../../components/CautionBox";
import { held, Launch } from "../../components/Launch";
import { Scan } from "../../components/Scan";
import { TextField } from "../../components/TextField";
import { benchOrder, benchSteps } from "../../lib/bench";
import { sensorOf } from "../../lib/book";
import { liveId } from "../../store";
import form from "../../components/fields.module.css";

export interface Bench {
  /** A position of the floor file, on whose port the panel hangs. */
  position: string;
  serial: string;
}

interface Props {
  floor: Floor;
  sensors: readonly SensorState[];
  bench: Bench;
  onChange(bench: Bench): void;
  onBegun(): void;
}

/** Where the panel hangs, and which one it is. */
export function Setup({ floor, sensors, bench, onChange, onBegun }: Props) {
  const id = useId();
  const panel = floor.panels.find((one) => one.position === bench.position);
  const sensor = panel ? sensorOf(sensors, panel) : null;
  const serial = bench.serial.trim();
  const lacks = !panel ? "Choose where the panel hangs." : serial === "" ? "Type or scan the serial of the panel." : liveId.value === null ? "Waiting for the live connection with which the light is to end." : null;
  return (
    <Card title="Test one panel on the bench">
      <form
        class={form.form}
        onSubmit={(event) => {
          event.preventDefault();
          const first = panel ? benchSteps(panel.segments.length)[0] : undefined;
          if (held(lacks) || !panel || !first) return;
          onChange({ ...bench, serial });
          void start(benchOrder(first, panel.position, sensor !== null, liveId.value)).then((begun) => begun && onBegun());
        }}
      >
        <div class={form.field}>
          <label for={id}>The panel hangs where the floor file has</label>
          <select id={id} value={bench.position} onChange={(event) => onChange({ ...bench, position: event.currentTarget.value })}>
            {floor.panels.map((one) => (
              <option key={one.position} value={one.position}>
                {one.position} – {one.node ?? "no node"}
                {one.port === null ? "" : `, port ${one.port}`}
              </option>
            ))}
          </select>
        </div>
        <TextField label="Serial of the panel" value={bench.serial} onText={(text) => onChange({ ...bench, serial: text })} exact />
        <Scan onSerial={(found) => onChange({ ...bench, serial: found })} />
        <p class={form.small}>
          {sensor
            ? `The sensor ${sensor.name} at ${sensor.place} sees this place: its readings become the panel's signature. Everything else on the floor is dark meanwhile.`
            : "No sensor of current that can be believed sees this place: what is seen is recorded, but no signature."}
        </p>
        <CautionBox>
          <li>
            <strong>{sensor ? "The whole floor changes its light" : "This panel changes its light"}</strong> with every step, in place of the console's picture. Who stands on it must know.
          </li>
          <li>
            <strong>Look past the light, not into it.</strong> Don't work on joints while they are live: switch the supply off first.
          </li>
        </CautionBox>
        <Launch action={starting} icon="test" waiting="Starting…" lacks={lacks}>
          Begin the test
        </Launch>
      </form>
    </Card>
  );
}
