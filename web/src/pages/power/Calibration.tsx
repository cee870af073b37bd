import { useId, useState } from "preact/hooks";
import { calibrate, calibrating, stopCalibration, stopping } from "../../api/calibration";
import type { State } from "../../api/types";
import { ActionButton } from "../../components/ActionButton";
import { Barrier, barred } from "../../components/Barrier";
import { CautionBox } from "../../components/CautionBox";
import { FailureNote } from "../../components/FailureNote";
import { NotForGuests } from "../../components/NotForGuests";
import { Status } from "../../components/Status";
import { seconds } from "../../lib/format";
import { guest } from "../../store";
import css from "./SensorsCard.module.css";

/** The run that learns what the floor really draws: its cautions, its progress, what came of it. */
export function Calibration({ state }: { state: State }) {
  const run = state.calibration;
  if (guest.value && !run.running && run.outcomes.length === 0) return null;
  return (
    <section class={css.part} aria-label="Calibration">
      <h3>Calibration</h3>
      {run.running ? (
        <>
          <progress class={css.progress} max={run.steps} value={run.step + 1} aria-label="Steps of the calibration run" />
          <p class={css.lead} role="status">
            Step {run.step + 1} of {run.steps}, {seconds(run.ends_in_s)} left. Keep off the floor: it gets as bright as its limits allow.
          </p>
          <ActionButton action={stopping} waiting="Stopping…" icon="close" look="stop" onRun={() => void stopCalibration()}>
            Stop the run
          </ActionButton>
          <FailureNote action={stopping} />
        </>
      ) : (
        <NotForGuests>
          <Begin />
        </NotForGuests>
      )}
      {!run.running && run.outcomes.length > 0 && (
        <ul class={css.outcomes} aria-label="What the last run taught">
          {run.outcomes.map(({ sensor, refused }) => (
            <li key={sensor}>
              <Status icon={refused === null ? "ok" : "warning"} tone={refused === null ? "good" : "warning"}>
                {refused === null ? `${sensor}: calibrated` : `${sensor}: nothing learned, ${refused}`}
              </Status>
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}

function Begin() {
  const id = useId();
  const [clear, setClear] = useState(false);
  const locked = barred() !== null;
  return (
    <>
      <p class={css.lead}>
        A run lights the whole floor in known ways and learns what it really draws. From then on the cap goes by that.
      </p>
      <CautionBox>
        <li>For about a minute the whole floor changes its light: dark, then red, green, blue and white, up to the brightest that its limits allow.</li>
        <li>Nobody should stand on it, and nobody should work on wires, fuses or supplies.</li>
        <li>The console's picture is not shown meanwhile.</li>
      </CautionBox>
      {locked ? (
        <Barrier id={id} />
      ) : (
        <>
          <label class={css.tick}>
            <input type="checkbox" checked={clear} onChange={(event) => setClear(event.currentTarget.checked)} />
            Nobody is on the floor or at its wires
          </label>
          <ActionButton
            action={calibrating}
            waiting="Starting…"
            icon="power"
            blocked={!clear}
            reasonId={id}
            onRun={() => void calibrate().then((begun) => begun && setClear(false))}
          >
            Calibrate
          </ActionButton>
          {!clear && (
            <p id={id} class={css.small}>
              Say first that the floor is clear.
            </p>
          )}
        </>
      )}
      <FailureNote action={calibrating} />
    </>
  );
}
