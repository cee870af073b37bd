import { stop, stopping } from "../../api/survey";
import { ActionButton } from "../../components/ActionButton";
import { Barrier, barred } from "../../components/Barrier";
import { FailureNote } from "../../components/FailureNote";
import css from "./SurveyPage.module.css";

export function StopSurvey() {
  return (
    <div class={css.stop}>
      <ActionButton action={stopping} look="stop" icon="close" waiting="Stopping…" blocked={barred() !== null} reasonId="stop-barrier" onRun={() => void stop()}>
        Stop the survey
      </ActionButton>
      <Barrier id="stop-barrier" />
      <FailureNote action={stopping} />
    </div>
  );
}
