import { useId } from "preact/hooks";
import { remember, who } from "../lib/who";
import css from "./fields.module.css";

/** Who does what is written into the book; this device remembers it. */
export function WhoField() {
  const id = useId();
  return (
    <div class={css.field}>
      <label for={id}>Who are you?</label>
      <input id={id} type="text" autocomplete="name" maxLength={60} value={who.value} onInput={(event) => remember(event.currentTarget.value)} />
    </div>
  );
}

/** What the form lacks as long as nobody has said who writes. */
export const nobody = (): string | null => (who.value.trim() === "" ? "Say who you are: the book keeps it, and this device remembers it." : null);
