import { useState } from "preact/hooks";
import { begin, beginning, type SurveyBy } from "../../api/survey";
import { Card } from "../../components/Card";
import { CautionBox } from "../../components/CautionBox";
import { held, Launch } from "../../components/Launch";
import { PanelPlan } from "../../components/PanelPlan";
import { TextField } from "../../components/TextField";
import { positionsIn } from "../../lib/pattern";
import { argument } from "../../lib/route";
import { plural } from "../../lib/format";
import { type Layout, liveId } from "../../store";
import { Pick } from "../test/Pick";
import form from "../../components/fields.module.css";
import { LevelSlider } from "../../components/LevelSlider";
import css from "./SurveyPage.module.css";

interface Props {
  layout: Layout;
  /** How many sensors of current there are. */
  sensors: number;
  again: boolean;
}

/** What a survey does, of what, how bright, and the cautions where it is decided. */
export function Begin({ layout, sensors, again }: Props) {
  const [by, setBy] = useState<SurveyBy>(sensors > 0 ? "sensors" : "eyes");
  const named = argument.value;
  const [text, setText] = useState<string | null>(named === "" ? null : named);
  const [percent, setPercent] = useState(50);
  const [weak, setWeak] = useState(false);
  const [endsWithPage, setEndsWithPage] = useState(true);
  const { found, unknown } = positionsIn(text ?? "", layout.floor);
  const lacks =
    text !== null && found.length === 0
      ? "Choose at least one panel, or the whole floor."
      : percent === 0
        ? "At a level of 0 % nothing can be seen: raise the level."
        : by === "sensors" && sensors === 0
          ? "No sensor of current is in the floor file: add one, or go by eyes."
          : endsWithPage && liveId.value === null
            ? "Waiting for the live connection with which the survey is to end."
            : null;
  const toggle = (position: string) => setText((found.includes(position) ? found.filter((one) => one !== position) : [...found, position]).join(", "));
  return (
    <Card title={again ? "Make another survey" : "Make a survey"}>
      <form
        class={form.form}
        onSubmit={(event) => {
          event.preventDefault();
          if (held(lacks)) return;
          const level = Math.max(1, Math.round((percent * 255) / 100));
          void begin({ by, level, weak: by === "sensors" && weak, endsWithPage, ...(text === null ? {} : { positions: found }) }).then((begun) => begun && window.scrollTo(0, 0));
        }}
      >
        <p>
          Segments light in patterns, many at once, and from what is seen litfloor works out which of them are dead. That is far quicker than one at
          a time, and it ends as soon as every segment is decided.
        </p>
        <fieldset class={form.group}>
          <legend>Who looks</legend>
          <div class={form.two}>
            <Pick name="by" chosen={by === "sensors"} onPick={() => setBy("sensors")}>
              Sensors
            </Pick>
            <Pick name="by" chosen={by === "eyes"} onPick={() => setBy("eyes")}>
              My eyes
            </Pick>
          </div>
          <p class={css.small}>
            {by === "sensors"
              ? `The sensors of current read while the light changes; nobody has to look. ${sensors === 0 ? "There is none on this floor." : `There ${sensors === 1 ? "is one" : `are ${sensors}`} on this floor.`}`
              : "You stand where you see the floor, and tap what should be lit and isn't. A few lights are enough, and each waits for you."}
          </p>
        </fieldset>
        <fieldset class={form.group}>
          <legend>What is surveyed</legend>
          <div class={form.two}>
            <Pick name="of" chosen={text === null} onPick={() => setText(null)}>
              The whole floor
            </Pick>
            <Pick name="of" chosen={text !== null} onPick={() => setText(text ?? "")}>
              Chosen panels
            </Pick>
          </div>
          {text !== null && (
            <>
              <TextField
                label="Panels"
                value={text}
                onText={setText}
                exact
                hint={unknown.length > 0 ? `Not on this floor: ${unknown.join(", ")}.` : `${plural(found.length, "panel")} chosen. Positions such as C4, D4, or tap them on the plan.`}
              />
              <PanelPlan layout={layout} label="Panels to survey" chosen={new Set(found)} onPick={toggle} look={outline} />
            </>
          )}
        </fieldset>
        <LevelSlider percent={percent} onPercent={setPercent} />
        {by === "sensors" && (
          <label class={form.check}>
            <input type="checkbox" checked={weak} onChange={(event) => setWeak(event.currentTarget.checked)} />
            <span>
              Find weak segments, too
              <small>Those that draw too little, not only dark ones. It takes some 25 times as long; some are found on the way all the same.</small>
            </span>
          </label>
        )}
        <label class={form.check}>
          <input type="checkbox" checked={endsWithPage} onChange={(event) => setEndsWithPage(event.currentTarget.checked)} />
          <span>
            End it when this browser goes away
            <small>Also when the phone sleeps or is out of the network. What was decided by then stays.</small>
          </span>
        </label>
        <CautionBox>
          <li>
            <strong>The floor goes dark and then flickers slowly,</strong> in place of the console's picture. People on it may stumble: tell them, and
            keep them off.
          </li>
          <li>
            <strong>No segment, panel or the floor flashes more than three times a second.</strong> That can still harm people with photosensitive
            epilepsy.
          </li>
          <li>
            <strong>Limits are kept all the time, but by computed current.</strong> An estimate is no permission. Don't work on wiring that is live.
          </li>
        </CautionBox>
        <Launch action={beginning} icon="search" waiting="Beginning…" lacks={lacks}>
          Begin the survey
        </Launch>
      </form>
    </Card>
  );
}

const outline = () => "unlit" as const;
