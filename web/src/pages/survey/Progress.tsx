import type { SurveyState } from "../../api/survey";
import { Card } from "../../components/Card";
import { progressWords, share } from "../../lib/survey";
import type { Layout } from "../../store";
import { StopSurvey } from "./StopSurvey";
import { SurveyMap } from "./SurveyMap";
import { ProgressBar } from "../../components/ProgressBar";
import css from "./SurveyPage.module.css";

/** A survey by sensors: how far it is, and the map that fills in. */
export function Progress({ layout, now }: { layout: Layout; now: SurveyState }) {
  return (
    <Card title="Survey under way" aside={now.by === "eyes" ? "By eyes" : "By sensors"}>
      <ProgressBar value={share(now)} max={1} label="Items decided" thick />
      <p class={css.lead} data-progress>
        {progressWords(now)}
      </p>
      {now.by === "eyes" && (
        <p class={css.small} role="status">
          The next light is being made ready…
        </p>
      )}
      <SurveyMap layout={layout} now={now} />
      <StopSurvey />
    </Card>
  );
}
