import { useId } from "preact/hooks";
import type { Floor } from "../../api/types";
import { type Choice, COLOURS, type ColourName, LASTS_MIN } from "../../lib/pattern";
import { choose } from "./choice";
import { Select } from "./Select";
import css from "./form.module.css";

/** Level, colour, how long, and whether it ends with this page. */
export function LightAndTime({ floor, choice }: { floor: Floor; choice: Choice }) {
  const id = useId();
  return (
    <fieldset class={css.group}>
      <legend>Light and time</legend>
      <div class={css.field}>
        <label for={id}>Level</label>
        <span class={css.level}>
          <input
            id={id}
            type="range"
            min={0}
            max={100}
            step={5}
            value={choice.percent}
            aria-valuetext={`${choice.percent} %`}
            onInput={(event) => choose(floor, { percent: Number(event.currentTarget.value) })}
          />
          <output for={id}>{choice.percent} %</output>
        </span>
      </div>
      {choice.kind === "colours" ? (
        <p class={css.about}>Every colour that the panels have is shown alone, so there is none to choose.</p>
      ) : (
        <Select
          label="Colour"
          value={choice.colour}
          options={COLOURS.map((name) => ({ value: name, text: name[0]?.toUpperCase() + name.slice(1) }))}
          onPick={(colour) => choose(floor, { colour: colour as ColourName })}
        />
      )}
      <Select
        label="Ends after"
        value={String(choice.lastsMin)}
        options={LASTS_MIN.map((min) => ({ value: String(min), text: `${min} min` }))}
        onPick={(min) => choose(floor, { lastsMin: Number(min) })}
      />
      <label class={css.check}>
        <input type="checkbox" checked={choice.endsWithPage} onChange={(event) => choose(floor, { endsWithPage: event.currentTarget.checked })} />
        <span>
          End when this page goes away
          <small>
            Also when it is loaded again, when the phone sleeps, or when it is out of the network: after three seconds, or up to
            half a minute if the connection breaks without a word.
          </small>
        </span>
      </label>
    </fieldset>
  );
}
