import { start, starting } from "../../api/pattern";
import type { Floor } from "../../api/types";
import { Card } from "../../components/Card";
import { CautionBox } from "../../components/CautionBox";
import { held, Launch } from "../../components/Launch";
import { KIND, KINDS, missing, orderOf } from "../../lib/pattern";
import { liveId } from "../../store";
import { choiceFor, choose } from "./choice";
import { Cover } from "./Cover";
import { Target } from "./Target";
import { LightAndTime } from "./LightAndTime";
import { Pick } from "./Pick";
import { RUNNING } from "./Running";
import css from "./form.module.css";

/** What to light, where, how and how long. */
export function ChoiceForm({ floor, another }: { floor: Floor; another: boolean }) {
  const choice = choiceFor(floor);
  const waits = choice.endsWithPage && liveId.value === null ? "Waiting for the live connection with which the pattern is to end." : null;
  const lacks = missing(choice) ?? waits;
  return (
    <Card title={another ? "Show another" : "Light something"}>
      <form
        class={css.form}
        onSubmit={(event) => {
          event.preventDefault();
          if (!held(lacks)) void start(orderOf(choice, liveId.value)).then((started) => started && leadToRunning());
        }}
      >
        <fieldset class={css.group}>
          <legend>What lights up</legend>
          <div class={css.kinds}>
            {KINDS.filter((kind) => kind !== "node" || floor.nodes.length > 0).map((kind) => (
              <Pick key={kind} name="kind" chosen={choice.kind === kind} onPick={() => choose(floor, { kind })}>
                {KIND[kind].name}
              </Pick>
            ))}
          </div>
          <p class={css.about}>{KIND[choice.kind].about}</p>
          <Target floor={floor} choice={choice} />
        </fieldset>
        <div class={css.rest}>
          <LightAndTime floor={floor} choice={choice} />
          <Cover floor={floor} choice={choice} />
          <Cautions />
          <Launch action={starting} icon="test" waiting="Starting…" lacks={lacks}>
            {another ? "Start instead" : "Start"}
          </Launch>
        </div>
      </form>
    </Card>
  );
}

/** On a phone the button is far below what it starts. */
function leadToRunning(): void {
  requestAnimationFrame(() => {
    document.getElementById(RUNNING)?.focus({ preventScroll: true });
    window.scrollTo(0, 0);
  });
}

/** Where light is switched on, so that they are read then. */
function Cautions() {
  return (
    <CautionBox>
      <li>
        <strong>People may be on the floor:</strong> tell them before you light it. Look past the panels, not into them.
      </li>
      <li>
        <strong>Steps and labels flash.</strong> What goes by itself is kept to three flashes a second at most; that can
        still harm people with photosensitive epilepsy.
      </li>
      <li>
        <strong>The current is capped, but only computed, never measured.</strong> Don't work on wiring that is live.
      </li>
    </CautionBox>
  );
}
