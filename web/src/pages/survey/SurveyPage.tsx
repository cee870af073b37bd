import { useMemo } from "preact/hooks";
import type { State } from "../../api/types";
import { survey } from "../../api/survey";
import { Card } from "../../components/Card";
import { Empty } from "../../components/Empty";
import { Sections } from "../../components/Sections";
import { Stale, Unseen } from "../../components/Unseen";
import { useWatched } from "../../components/useWatched";
import type { Layout } from "../../store";
import { Begin } from "./Begin";
import { Eyes } from "./Eyes";
import { Outcome } from "./Outcome";
import { Progress } from "./Progress";

const RUNNING_MS = 1000;
const IDLE_MS = 5000;

/** Finds what is dead by lighting the floor in patterns, and shows how far that is. */
export function SurveyPage({ layout, state }: { layout: Layout; state: State }) {
  const sensors = state.sensors.filter((sensor) => sensor.quantity === "current").length;
  // States come often, and a plan of many panels is not drawn anew for each.
  return useMemo(() => <Page layout={layout} sensors={sensors} />, [layout, sensors]);
}

function Page({ layout, sensors }: { layout: Layout; sensors: number }) {
  const now = survey.value.value;
  useWatched(survey, now?.running ? RUNNING_MS : IDLE_MS);
  return (
    <>
      {/* While eyes are asked, the plan is what there is room for. */}
      {!now?.question && <Sections />}
      <Stale watched={survey} />
      {layout.floor.watch_only ? (
        <Card title="Survey">
          <Empty icon="search" title="Watch only">
            The floor file names no nodes, so litfloor sends nothing and can light nothing. Add nodes to the file to survey the floor.
          </Empty>
        </Card>
      ) : now === undefined ? (
        <Card title="Survey">
          <Unseen watched={survey} what="Whether a survey is under way." />
        </Card>
      ) : now.running ? (
        now.question ? (
          <Eyes key={now.question.number} layout={layout} now={now} question={now.question} />
        ) : (
          <Progress layout={layout} now={now} />
        )
      ) : (
        <>
          {now.outcome && <Outcome layout={layout} now={now} outcome={now.outcome} />}
          <Begin layout={layout} sensors={sensors} again={now.outcome !== null} />
        </>
      )}
    </>
  );
}
