import { useState } from "preact/hooks";
import { begin, beginning, endsWithPage } from "../../api/walk";
import { Card } from "../../components/Card";
import { CautionBox } from "../../components/CautionBox";
import { held, Launch } from "../../components/Launch";
import { liveId } from "../../store";
import { LevelSlider } from "../../components/LevelSlider";
import css from "./Begin.module.css";

/** What a walk is, how bright, and the cautions where it is decided. */
export function Begin({ again = false }: { again?: boolean }) {
  const [percent, setPercent] = useState(50);
  const waits = endsWithPage.value && liveId.value === null ? "Waiting for the live connection with which the light is to end." : null;
  const lacks = percent === 0 ? "At a level of 0 % everything stays dark: raise the level." : waits;
  return (
    <Card title={again ? "Walk it again" : "Walk the floor"}>
      <form
        class={css.form}
        onSubmit={(event) => {
          event.preventDefault();
          if (!held(lacks)) void begin(Math.round((percent * 255) / 100), again);
        }}
      >
        <p class={css.lead}>
          One panel lights at a time, and you tap what you see: about one tap for each panel. At the end you see where the floor is
          otherwise than planned – swapped, turned, shifted, wrong colours, dark – and get a corrected floor file to read through.
        </p>
        <LevelSlider percent={percent} onPercent={setPercent} />
        <label class={css.check}>
          <input type="checkbox" checked={endsWithPage.value} onChange={(event) => (endsWithPage.value = event.currentTarget.checked)} />
          <span>
            End the light when this browser goes away
            <small>
              Also when the phone sleeps or is out of the network. Only the light ends: the walk waits in litfloor, and you light it
              again and go on. Otherwise the light of a question stays on for an hour at most.
            </small>
          </span>
        </label>
        <CautionBox>
          <li>
            <strong>The whole floor goes dark but for what is asked about,</strong> in place of the console's picture. People on it may
            stumble: tell them, and keep them off. Look past the panels, not into them.
          </li>
          <li>
            <strong>It changes once a tap and does not flash by itself.</strong> Quick taps change the light four times a second at most;
            that can still harm people with photosensitive epilepsy.
          </li>
          <li>
            <strong>The current is capped, but only computed, never measured.</strong> An estimate is no permission. Don't work on wiring
            that is live.
          </li>
        </CautionBox>
        {again && <p class={css.lost}>The answers and the report of the last walk are lost by that. Save the corrected file first.</p>}
        <Launch action={beginning} icon="walk" waiting="Beginning…" lacks={lacks}>
          {again ? "Begin again" : "Begin the walk"}
        </Launch>
      </form>
    </Card>
  );
}
