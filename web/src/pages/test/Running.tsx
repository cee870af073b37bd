import { stepBy, stepping, stepTo, stop, stopping } from "../../api/pattern";
import type { Floor, PatternState } from "../../api/types";
import { ActionButton } from "../../components/ActionButton";
import { Barrier, barred } from "../../components/Barrier";
import { Card } from "../../components/Card";
import { FailureNote } from "../../components/FailureNote";
import { plural } from "../../lib/format";
import { countdown, litPanels, walkOrder } from "../../lib/pattern";
import { levels } from "../../store";
import { Plan } from "./Plan";
import { Select } from "./Select";
import css from "./Running.module.css";

/** Id of what has the focus after a start. */
export const RUNNING = "running";

/** The pattern that is on, and the buttons for it. */
export function Running({ floor, on }: { floor: Floor; on: PatternState }) {
  const { positions, exact } = litPanels(on, floor, on.lit_panels > on.lit.length ? levels.sent.value : null);
  const hasSteps = on.step !== null && on.steps !== null;
  const blocked = barred() !== null;
  const order = blocked ? null : walkOrder(on, floor);
  const goTo = (position: string) => {
    const step = order?.indexOf(position) ?? -1;
    if (step >= 0) void stepTo(step);
  };
  return (
    <Card title="On the floor now" aside={`${countdown(on.ends_in_s)} left`}>
      <div id={RUNNING} class={css.parts} tabIndex={-1}>
        <div class={css.said}>
          {/* Read aloud where it changes by someone's hand only. */}
          <p class={css.what} role={hasSteps && !on.held ? undefined : "status"}>
            {on.lit_panels === 1 && <strong class={css.one}>{on.lit[0]}</strong>}
            <span>{on.what}</span>
          </p>
          {hasSteps && (
            <p class={css.step}>
              Step {(on.step ?? 0) + 1} of {on.steps}, {on.held ? "stays until you step" : "steps by itself; Back and Next take it over"}
            </p>
          )}
        </div>
        <Plan
          floor={floor}
          marked={positions}
          mark="lit"
          label={`Plan with the lit panels: ${litWords(on)}`}
          {...(order && { onTap: goTo })}
        />
        <div class={css.buttons}>
          {hasSteps && (
            <div class={css.steps}>
              <ActionButton action={stepping} big icon="back" waiting="Back" blocked={blocked} reasonId="running-barrier" onRun={() => void stepBy(-1)}>
                Back
              </ActionButton>
              <ActionButton action={stepping} big look="main" icon="next" waiting="Next" blocked={blocked} reasonId="running-barrier" onRun={() => void stepBy(1)}>
                Next
              </ActionButton>
            </div>
          )}
          <ActionButton action={stopping} big look="stop" icon="close" waiting="Stopping…" blocked={blocked} reasonId="running-barrier" onRun={() => void stop()}>
            Stop the pattern
          </ActionButton>
          <FailureNote action={stepping} />
          <FailureNote action={stopping} />
          <Barrier id="running-barrier" />
        </div>
        <div class={css.below}>
          {order && (
            <>
              <Select
                label="Go on from"
                value={on.lit[0] ?? ""}
                options={order.map((position, step) => ({ value: position, text: `${position} – step ${step + 1}` }))}
                onPick={goTo}
              />
              <p class={css.hint}>Or tap the panel on the plan.</p>
            </>
          )}
          <Facts floor={floor} on={on} exact={exact} />
        </div>
      </div>
    </Card>
  );
}

function litWords(on: PatternState): string {
  if (on.lit_panels <= on.lit.length) return on.lit.join(", ");
  return plural(on.lit_panels, "panel");
}

function Facts({ floor, on, exact }: { floor: Floor; on: PatternState; exact: boolean }) {
  return (
    <dl class={css.facts}>
      <div>
        <dt>Lit</dt>
        <dd>
          {litWords(on)}
          {!exact && " (the plan also marks panels that the console lights)"}
        </dd>
      </div>
      <div>
        <dt>Covers</dt>
        <dd>
          {on.covers_all
            ? "the whole floor: what is not lit is black"
            : `${on.covered_panels} of ${plural(floor.panels.length, "panel")}: the others show the console's picture`}
        </dd>
      </div>
      <div>
        <dt>Ends</dt>
        <dd>
          in {countdown(on.ends_in_s)}
          {on.ends_with_owner && ", or when the page that started it goes away"}
        </dd>
      </div>
    </dl>
  );
}
