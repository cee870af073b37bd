import { useSignal } from "@preact/signals";
import { NotForGuests } from "../../components/NotForGuests";
import buttons from "../../components/button.module.css";
import { CHOICES, csvPath, rangeOf, readFields, toField, type Choice, type Range } from "../../lib/range";
import css from "./RangePicker.module.css";

interface Props {
  choice: Choice;
  range: Range | null;
  onChoose(choice: Choice): void;
  onRange(range: Range): void;
}

/** How far back is drawn; for any range, from when to when. */
export function RangePicker({ choice, range, onChoose, onRange }: Props) {
  const first = rangeOf("range", Date.now() / 1000);
  const from = useSignal(toField(first.from_s));
  const to = useSignal(toField(first.to_s));
  const wrong = useSignal("");
  const show = (event: Event) => {
    event.preventDefault();
    const read = readFields(from.value, to.value);
    wrong.value = typeof read === "string" ? read : "";
    if (typeof read !== "string") onRange(read);
  };
  return (
    <div class={css.picker}>
      <div class={css.choices} role="group" aria-label="How far back">
        {CHOICES.map(({ choice: one, word }) => (
          <button key={one} type="button" class={buttons.toggle} aria-pressed={choice === one} onClick={() => onChoose(one)}>
            {word}
          </button>
        ))}
      </div>
      {choice === "range" && (
        <form class={css.fields} onSubmit={show}>
          <Field label="From" value={from} />
          <Field label="To" value={to} />
          <button type="submit" class={buttons.solid}>
            Show
          </button>
          {wrong.value && (
            <p class={css.wrong} role="alert">
              {wrong.value}
            </p>
          )}
        </form>
      )}
      <NotForGuests>
        <a class={css.csv} href={csvPath(range ?? rangeOf("minutes", Date.now() / 1000))} download="litfloor-history.csv">
          Download as CSV
        </a>
      </NotForGuests>
    </div>
  );
}

function Field({ label, value }: { label: string; value: { value: string } }) {
  return (
    <label class={css.field}>
      <span>{label}</span>
      <input
        type="datetime-local"
        value={value.value}
        onInput={(event) => {
          value.value = event.currentTarget.value;
        }}
      />
    </label>
  );
}
