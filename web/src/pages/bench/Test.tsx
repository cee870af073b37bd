import { useEffect, useRef, useState } from "preact/hooks";
import type { Signature } from "../../api/book";
import { start, stop } from "../../api/pattern";
import type { PanelInfo, State } from "../../api/types";
import { ActionButton } from "../../components/ActionButton";
import { Barrier, barred } from "../../components/Barrier";
import { Card } from "../../components/Card";
import { FailureNote } from "../../components/FailureNote";
import { useAction } from "../../components/useWatched";
import { benchOrder, type BenchStep, benchSteps, READINGS } from "../../lib/bench";
import { sensorOf } from "../../lib/book";
import { amps } from "../../lib/format";
import { liveId, pattern } from "../../store";
import buttons from "../../components/button.module.css";
import { Result } from "./Result";
import { useReadings } from "./useReadings";
import { ProgressBar } from "../../components/ProgressBar";
import { useFocusOn } from "../../components/useLead";
import css from "./Test.module.css";

interface Props {
  panel: PanelInfo;
  serial: string;
  state: State;
  onLeave(): void;
  onNext(): void;
}

/** One light after the other: is it right or not, and what does the sensor say. */
export function Test({ panel, serial, state, onLeave, onNext }: Props) {
  const steps = benchSteps(panel.segments.length);
  const action = useAction();
  const [at, setAt] = useState(0);
  const [wrong, setWrong] = useState<string[]>([]);
  const [signature, setSignature] = useState<Signature>({});
  const heading = useRef<HTMLParagraphElement>(null);
  const sensor = sensorOf(state.sensors, panel);
  const step = steps[at];
  const lit = step && shown(step, panel.position) ? step.key : null;
  const { mean_a, readings, enough } = useReadings(sensor, state.uptime_s, lit);
  const measures = sensor !== null && step !== undefined && step.kind !== "segment";
  useFocusOn(heading, [at]);
  // Whoever leaves the page has done with its light.
  useEffect(() => () => void (pattern.value && stop()), []);

  const light = (next: BenchStep) => start(benchOrder(next, panel.position, sensor !== null, liveId.value), action);
  const go = async (right: boolean) => {
    if (!step) return;
    const next = steps[at + 1];
    const done = next ? await light(next) : await stop();
    if (!done) return;
    if (measures && mean_a !== null) setSignature({ ...signature, [`${step.key}_a`]: Math.round(mean_a * 1e4) / 1e4 });
    setWrong(right ? wrong.filter((key) => key !== step.key) : [...new Set([...wrong, step.key])]);
    setAt(at + 1);
  };
  const back = async () => {
    const before = steps[at - 1];
    if (before && (await light(before))) setAt(at - 1);
  };

  if (!step) return <Result serial={serial} wrong={wrong} signature={Object.keys(signature).length > 0 ? signature : null} onNext={onNext} />;
  const computed = state.panels.find((one) => one.position === panel.position)?.draw_a ?? null;
  const off = barred() !== null;
  return (
    <Card title={`Bench: ${serial}`} aside={`Step ${at + 1} of ${steps.length}, at ${panel.position}`}>
      <ProgressBar value={at} max={steps.length} label="Steps done" />
      <p ref={heading} class={css.see} tabIndex={-1} data-step={step.key}>
        {step.see}
      </p>
      {lit === null && (
        <div class={css.unlit}>
          <p>The light of this step is not on now: it was stopped, its time was up, or another pattern took over.</p>
          <ActionButton action={action} look="main" icon="test" waiting="Lighting…" blocked={off} reasonId="bench-barrier" onRun={() => void light(step)}>
            Light it again
          </ActionButton>
        </div>
      )}
      <dl class={css.facts}>
        <div>
          <dt>computed</dt>
          <dd>{amps(sensor ? (sensor.expected ?? sensor.computed) : computed)}</dd>
        </div>
        {sensor && (
          <div>
            <dt>measured by {sensor.name}</dt>
            <dd>{amps(sensor.measured)}</dd>
          </div>
        )}
        {measures && (
          <div>
            <dt>mean for the signature</dt>
            <dd data-mean={enough}>
              {mean_a === null ? "settling…" : amps(mean_a)} <small>{enough ? "" : `${readings} of ${READINGS} readings`}</small>
            </dd>
          </div>
        )}
      </dl>
      {measures && !enough && <p class={css.small}>Better wait for {READINGS} readings before you go on; without them the signature is less sure, or lacks this step.</p>}
      <div class={css.buttons}>
        <ActionButton action={action} look="main" big icon="ok" waiting="Next light…" blocked={off || lit === null} reasonId="bench-barrier" onRun={() => void go(true)}>
          Right
        </ActionButton>
        <ActionButton action={action} big icon="cross" waiting="Next light…" blocked={off || lit === null} reasonId="bench-barrier" onRun={() => void go(false)}>
          Not right
        </ActionButton>
      </div>
      <Barrier id="bench-barrier" />
      <FailureNote action={action} />
      <div class={css.row}>
        <ActionButton action={action} icon="back" waiting="Going back…" blocked={off || at === 0} onRun={() => void back()}>
          Step back
        </ActionButton>
        <button type="button" class={buttons.solid} onClick={onLeave}>
          Leave the test
        </button>
      </div>
    </Card>
  );
}

/** Whether the light of a step is on, as far as the state tells. */
function shown(step: BenchStep, position: string): boolean {
  const on = pattern.value;
  if (!on) return false;
  if (step.kind === "segment") return on.kind === "segment" && on.what.toLowerCase().includes(`segment ${step.segment} `);
  if (on.kind !== "panel" || !on.what.includes(position)) return false;
  return step.kind === "dark" || on.what.includes(step.key);
}
