import { useId } from "preact/hooks";
import { remember, who } from "../lib/who";
import { guest } from "../store";
import css from "./fields.module.css";

/** Who does what is written into the book; this device remembers it. What lacks without it has the id `lacksId`. */
export function WhoField({ lacksId }: { lacksId?: string }) {
  const id = useId();
  if (guest.value) return null;
  const lacks = lacksId ? nobody() : null;
  return (
    <div class={css.field}>
      <label for={id}>Who are you?</label>
      <input id={id} type="text" autocomplete="name" maxLength={60} value={who.value} onInput={(event) => remember(event.currentTarget.value)} />
      {lacks && (
        <p id={lacksId} class={css.hint}>
          {lacks}
        </p>
      )}
    </div>
  );
}

/** What the form lacks as long as nobody has said who writes. */
export const nobody = (): string | null => (who.value.trim() === "" ? "Say who you are: the book keeps it, and this device remembers it." : null);
