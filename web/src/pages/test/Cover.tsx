import { useId, useState } from "preact/hooks";
import type { Floor } from "../../api/types";
import { plural } from "../../lib/format";
import { type Choice, positionsIn } from "../../lib/pattern";
import { choose } from "./choice";
import { Pick } from "./Pick";
import { Plan } from "./Plan";
import css from "./form.module.css";

/** Which panels are taken from the console. */
export function Cover({ floor, choice }: { floor: Floor; choice: Choice }) {
  const { covered } = choice;
  return (
    <fieldset class={css.group}>
      <legend>What it covers</legend>
      <div class={css.two}>
        <Pick name="cover" chosen={covered === null} onPick={() => choose(floor, { covered: null })}>
          Whole floor
        </Pick>
        <Pick name="cover" chosen={covered !== null} onPick={() => choose(floor, { covered: covered ?? [] })}>
          Chosen panels
        </Pick>
      </div>
      <p class={css.about}>
        {covered === null
          ? "What the pattern does not light goes black."
          : "Only these are taken from the console; the others go on showing its picture."}
      </p>
      {covered !== null && <Covered floor={floor} covered={covered} />}
    </fieldset>
  );
}

function Covered({ floor, covered }: { floor: Floor; covered: string[] }) {
  const id = useId();
  const [text, setText] = useState(covered.join(", "));
  const { found, unknown } = positionsIn(text, floor);
  const take = (positions: string[]) => choose(floor, { covered: positions });
  const tap = (position: string) => {
    const next = covered.includes(position) ? covered.filter((p) => p !== position) : [...covered, position];
    setText(next.join(", "));
    take(next);
  };
  return (
    <>
      <div class={css.field}>
        <label for={id}>Panels</label>
        <input
          id={id}
          type="text"
          autocapitalize="characters"
          autocomplete="off"
          spellcheck={false}
          placeholder="A1, B1, C4"
          value={text}
          aria-describedby={`${id}-count`}
          aria-invalid={unknown.length > 0}
          onInput={(event) => {
            setText(event.currentTarget.value);
            take(positionsIn(event.currentTarget.value, floor).found);
          }}
        />
      </div>
      <p id={`${id}-count`} class={css.about}>
        {plural(found.length, "panel")} chosen{unknown.length > 0 && `; the floor has no ${unknown.slice(0, 5).join(", ")}`}. Type their
        positions, or tap them on the plan:
      </p>
      <Plan floor={floor} marked={new Set(covered)} mark="chosen" label={`Plan; ${plural(covered.length, "panel")} chosen`} onTap={tap} />
    </>
  );
}
