import type { State } from "../../api/types";
import type { Reference as Kind } from "../../api/live";
import { Status } from "../../components/Status";
import { shiftWords } from "../../lib/trouble";
import { reference, slots } from "../../store";
import css from "./Reference.module.css";

const CHOICES: { kind: Kind | null; word: string }[] = [
  { kind: null, word: "No reference" },
  { kind: "first_pixels", word: "First pixel of every panel" },
  { kind: "all", word: "Everything at full" },
];

/** What the operator sends on purpose, so that it can be seen where it lands. */
export function Reference({ state }: { state: State }) {
  const on = reference.value;
  return (
    <details class={css.reference} open={on !== null}>
      <summary>Is the console's patch shifted? Check it with a reference</summary>
      <p class={css.text}>
        Light one of these from the console, and nothing else on the floor. litfloor compares the slots that are lit
        with those that the file maps, at every shift that leaves a slot in the universe, and names one only if it is
        clearly the best: every other must be off by three times as many slots, and two more. It says that the reference
        lies right only if nothing of it is missing. It sends nothing itself.
      </p>
      <fieldset class={css.choices}>
        <legend class={css.legend}>The console sends now</legend>
        {CHOICES.map(({ kind, word }) => (
          <label key={word} class={css.choice}>
            <input
              type="radio"
              name="reference"
              checked={on === kind}
              onChange={() => {
                reference.value = kind;
              }}
            />
            {word}
          </label>
        ))}
      </fieldset>
      {on === "all" && (
        <p class={css.text} role="note">
          <strong>Everything at full is bright and draws the most current.</strong>{" "}
          {state.nodes.length > 0
            ? "litfloor caps what it sends, by its computation."
            : "litfloor only watches this floor and can't hold it back: dim the console; any level above 0 will do."}{" "}
          The first pixels alone are the clearer reference anyway.
        </p>
      )}
      {on !== null && <p class={css.text}>The result stands beside the name of each universe in sight.</p>}
    </details>
  );
}

/** Where the reference has landed in one universe. */
export function ReferenceVerdict({ flat, mapped }: { flat: number; mapped: boolean }) {
  const now = slots.value.get(flat);
  if (reference.value === null || !mapped || !now || now.verdict === "none") return null;
  switch (now.verdict) {
    case "dark":
      return (
        <Status icon="wait" tone="quiet">
          reference: nothing is lit
        </Status>
      );
    case "fits":
      return (
        <Status icon="ok" tone="good">
          reference lies right
        </Status>
      );
    case "shifted":
      return (
        <Status icon="warning" tone="warning">
          {`reference lies ${shiftWords(now.shift)} than mapped`}
        </Status>
      );
    case "unclear":
      return (
        <Status icon="broken" tone="warning">
          reference incomplete, or no shift fits clearly
        </Status>
      );
  }
}
