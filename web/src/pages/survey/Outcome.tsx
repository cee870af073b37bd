import type { FoundItem, SurveyResult, SurveyState } from "../../api/survey";
import { Card } from "../../components/Card";
import { Icon } from "../../components/Icon";
import { Status } from "../../components/Status";
import { duration } from "../../lib/format";
import { hashOf } from "../../lib/route";
import { endedWord, foundWords } from "../../lib/survey";
import type { Layout } from "../../store";
import { SurveyMap } from "./SurveyMap";
import action from "../../components/ActionButton.module.css";
import buttons from "../../components/button.module.css";
import css from "./SurveyPage.module.css";

interface Props {
  layout: Layout;
  now: SurveyState;
  outcome: SurveyResult;
}

/** What came of the last survey, in words and on the plan. */
export function Outcome({ layout, now, outcome }: Props) {
  const { ended, text, dead, weak = [], stuck = [], left_out = [], doubtful = false } = outcome;
  const good = ended === "decided" && !doubtful && dead.length + weak.length + stuck.length === 0;
  const tone = good ? "good" : ended === "decided" || doubtful ? "warning" : "info";
  return (
    <Card title="The last survey" aside={ended === "refused" ? undefined : `${now.by === "eyes" ? "By eyes" : "By sensors"}, ${duration(now.spent_s)}`}>
      <div data-outcome={ended}>
        <Status icon={tone === "good" ? "ok" : tone} tone={tone}>
          {doubtful ? `${endedWord(ended)}, but it can’t be relied on` : endedWord(ended)}
        </Status>
        <p class={css.lead}>{text}</p>
        <Found title="Dark" items={dead} />
        <Found title="Weak" items={weak} />
        <Found title="Always lit" items={stuck} />
        {left_out.length > 0 && <p class={css.small}>Took no part: {left_out.join("; ")}.</p>}
        {ended !== "refused" && (
          <div class={css.row}>
            <a class={`${buttons.solid} ${action.main} ${css.link}`} href={hashOf("faults")}>
              <Icon name="faults" /> To the faults and their causes
            </a>
          </div>
        )}
        {now.map.length > 0 && ended !== "refused" && <SurveyMap layout={layout} now={now} />}
      </div>
    </Card>
  );
}

function Found({ title, items }: { title: string; items: readonly FoundItem[] }) {
  if (items.length === 0) return null;
  return (
    <>
      <h3>{title}</h3>
      <ul class={css.found}>
        {foundWords(items).map(({ position, text }) => (
          <li key={position}>
            <b>{position}</b> {text}
          </li>
        ))}
      </ul>
    </>
  );
}
