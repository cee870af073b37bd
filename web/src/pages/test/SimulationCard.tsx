import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { breakJoint, breaking, lookAtSimulation, simulation } from "../../api/simulation";
import type { Floor, JointFault } from "../../api/types";
import { ActionButton } from "../../components/ActionButton";
import { Barrier, barred } from "../../components/Barrier";
import { Card } from "../../components/Card";
import { FailureNote } from "../../components/FailureNote";
import { brokenWords, FAULT, jointsOf } from "../../lib/simulation";
import { Select } from "./Select";
import css from "./SimulationCard.module.css";

type Fault = Exclude<JointFault, "none">;

/** Breaks joints of a floor that is not real, to see how they are found. */
export function SimulationCard({ floor }: { floor: Floor }) {
  useEffect(() => void lookAtSimulation(), []);
  const broken = simulation.value?.broken ?? [];
  return (
    <Card title="This floor is simulated" aside="nothing real is broken here">
      <div class={css.parts}>
        <Break floor={floor} />
        <div class={css.broken}>
          <p role="status">{broken.length === 0 ? "Nothing is broken." : `Broken joints: ${broken.length}`}</p>
          <ul>
            {broken.map((joint) => (
              <li key={`${joint.position} ${joint.segment}`}>
                <span>{brokenWords(joint)}</span>
                <Mend position={joint.position} segment={joint.segment} />
              </li>
            ))}
          </ul>
        </div>
      </div>
      <FailureNote action={breaking} />
      <Barrier id="simulation-barrier" />
    </Card>
  );
}

function Mend({ position, segment }: { position: string; segment: number }) {
  return (
    <ActionButton
      action={breaking}
      waiting="Asking…"
      blocked={barred() !== null}
      reasonId="simulation-barrier"
      onRun={() => void breakJoint(position, segment, "none")}
    >
      Mend
    </ActionButton>
  );
}

function Break({ floor }: { floor: Floor }) {
  const position = useSignal(floor.panels[0]?.position ?? "");
  const segment = useSignal(1);
  const fault = useSignal<Fault>("supply_open");
  const panel = floor.panels.find((it) => it.position === position.value) ?? floor.panels[0];
  if (!panel) return null;
  const possible = (simulation.value?.possible ?? []).filter((it): it is Fault => it !== "none");
  const joint = Math.min(segment.value, panel.segments.length);
  const off = barred() !== null;
  return (
    <form
      class={css.form}
      onSubmit={(event) => {
        event.preventDefault();
        if (!off) void breakJoint(panel.position, joint, fault.value);
      }}
    >
      <p>Break a joint and see how litfloor finds it.</p>
      <Select
        label="Panel of the joint"
        value={panel.position}
        options={floor.panels.map((it) => ({ value: it.position, text: `${it.position} – run ${it.run + 1}` }))}
        onPick={(picked) => {
          position.value = picked;
        }}
      />
      <Select
        label="Joint"
        value={String(joint)}
        options={jointsOf(panel)}
        onPick={(picked) => {
          segment.value = Number(picked);
        }}
      />
      <Select
        label="What is wrong with it"
        value={fault.value}
        options={possible.map((it) => ({ value: it, text: FAULT[it].name }))}
        onPick={(picked) => {
          fault.value = picked as Fault;
        }}
      />
      <p class={css.about}>{FAULT[fault.value].about}</p>
      <ActionButton action={breaking} waiting="Breaking…" type="submit" blocked={off} reasonId="simulation-barrier">
        Break it
      </ActionButton>
    </form>
  );
}
