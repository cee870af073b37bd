import type { SensorState } from "../../api/types";
import { Status } from "../../components/Status";
import { ago, amps } from "../../lib/format";
import { difference, reading, taught, word } from "../../lib/sensors";
import css from "./SensorsCard.module.css";

export function SensorRow({ sensor }: { sensor: SensorState }) {
  const [text, icon, tone] = word(sensor);
  return (
    <li class={css.row}>
      <div class={css.name}>
        <h3>{sensor.name}</h3>
        <span class={css.small}>at {sensor.place}</span>
      </div>
      <Status icon={icon} tone={tone}>
        {text}
      </Status>
      <dl class={css.facts}>
        <div>
          <dt>measured</dt>
          <dd>{reading(sensor, sensor.measured)}</dd>
        </div>
        <div>
          <dt>{sensor.quantity === "voltage" ? "nominal" : sensor.calibration ? "expected" : "computed"}</dt>
          <dd>{reading(sensor, sensor.expected)}</dd>
        </div>
        <div>
          <dt>difference</dt>
          <dd>{difference(sensor.difference_percent)}</dd>
        </div>
        <div>
          <dt>last</dt>
          <dd>{ago(sensor.age_s)}</dd>
        </div>
      </dl>
      <p class={css.small}>
        {sensor.quantity === "current" && taught(sensor)}
        {sensor.live_limit_a !== null && `; its place is kept to ${amps(sensor.live_limit_a)} as computed`}
        {sensor.stricter && ", because more was measured"}
      </p>
    </li>
  );
}
