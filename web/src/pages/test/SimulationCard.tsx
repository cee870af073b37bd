import { useSignal } from "@preact/signals";
import { breakJoint, breaking, simulation } from "../../api/simulation";
import type { Floor } from "../../api/types";
import { ActionButton } from "../../components/ActionButton";
import { Barrier, barred } from "../../components/Barrier";
import { Card } from "../../components/Card";
import { FailureNote } from "../../components/FailureNote";
import { useWatched } from "../../components/useWatched";
import { brokenWords, doesNow, FAULT, type Fault, placesOf } from "../../lib/simulation";
import { Select } from "./Select";
import css from "./SimulationCard.module.css";

/** A loose joint opens and closes, and a node comes back: so often that is looked at. */
const LOOK_MS = 1000;

/** Breaks a floor that is not real, to see how that is found. */
export function SimulationCard({ floor }: { floor: Floor }) {
  useWatched(simulation, LOOK_MS);
  const broken = simulation.value.value?.broken ?? [];
  return (
    <Card title="This floor is simulated" aside="nothing real is broken here">
      <div class={css.parts}>
        <Break floor={floor} />
        <div class={css.broken}>
          <p role="status">{broken.length === 0 ? "Nothing is broken." : `Broken now: ${broken.length}`}</p>
          <ul>
            {broken.map((joint) => (
              <li key={`${joint.position} ${joint.segment} ${joint.fault}`}>
                <span>
                  {brokenWords(joint)}
                  <small class={css.about}>{doesNow(joint)}</small>
                </span>
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
  const possible = (simulation.value.value?.possible ?? []).filter((it): it is Fault => it !== "none");
  const places = placesOf(panel, fault.value);
  const joint = Math.min(segment.value, Math.max(places.length, 1));
  const off = barred() !== null;
  return (
    <form
      class={css.form}
      onSubmit={(event) => {
        event.preventDefault();
        if (!off) void breakJoint(panel.position, joint, fault.value);
      }}
    >
      <p>Break something and see how litfloor finds it.</p>
      <Select
        label="Panel that breaks"
        value={panel.position}
        options={floor.panels.map((it) => ({ value: it.position, text: `${it.position} – run ${it.run + 1}` }))}
        onPick={(picked) => {
          position.value = picked;
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
      <Select
        label="Where in it"
        value={String(joint)}
        options={places}
        onPick={(picked) => {
          segment.value = Number(picked);
        }}
      />
      <p class={css.about}>{FAULT[fault.value].about}</p>
      <ActionButton action={breaking} waiting="Breaking…" type="submit" blocked={off} reasonId="simulation-barrier">
        Break it
      </ActionButton>
    </form>
  );
}
