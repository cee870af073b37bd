import type { ComponentChildren } from "preact";
import css from "./form.module.css";

interface Props {
  name: string;
  chosen: boolean;
  onPick(): void;
  children: ComponentChildren;
}

/** One of several, as a radio button that a thumb can hit. */
export function Pick({ name, chosen, onPick, children }: Props) {
  return (
    <label class={css.pick}>
      <input type="radio" name={name} checked={chosen} onChange={onPick} />
      <span>{children}</span>
    </label>
  );
}
