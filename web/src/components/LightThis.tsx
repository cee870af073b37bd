import { start, stop, stopping } from "../api/pattern";
import { lightOrder, type Spot } from "../lib/faults";
import { liveId, pattern, watchOnly } from "../store";
import { ActionButton } from "./ActionButton";
import { barred } from "./Barrier";
import { FailureNote } from "./FailureNote";
import { useAction } from "./useWatched";

interface Props {
  spot: Spot;
  /** What the button says. */
  word?: string;
  reasonId?: string;
}

/** Whether a pattern shows this spot and nothing else. */
function shows(spot: Spot): boolean {
  const on = pattern.value;
  if (!on || on.kind !== spot.kind || on.lit_panels !== 1 || on.lit[0] !== spot.position) return false;
  return spot.kind === "panel" || new RegExp(`\\b[Ss]egment ${spot.segment}\\b`).test(on.what);
}

/** Lights a panel or a segment while the rest of the floor goes on, and ends that again. */
export function LightThis({ spot, word = "Light this one", reasonId }: Props) {
  const action = useAction();
  if (watchOnly.value) return null;
  if (shows(spot)) {
    return (
      <>
        <ActionButton action={stopping} look="stop" icon="close" waiting="Ending…" onRun={() => void stop()}>
          End its light
        </ActionButton>
        <FailureNote action={stopping} />
      </>
    );
  }
  return (
    <>
      <ActionButton action={action} icon="test" waiting="Lighting…" blocked={barred() !== null} {...(reasonId ? { reasonId } : {})} onRun={() => void start(lightOrder(spot, liveId.value), action)}>
        {word}
      </ActionButton>
      <FailureNote action={action} />
    </>
  );
}
