import type { Action } from "../lib/action";
import { Icon } from "./Icon";
import css from "./FailureNote.module.css";

/** What went wrong with an action, and what to do. */
export function FailureNote({ action }: { action: Action }) {
  const failure = action.failure.value;
  if (!failure) return null;
  return (
    <p class={css.note} role="alert">
      <Icon name={failure.kind === "refused" ? "warning" : "broken"} size={18} />
      <span>{failure.text}</span>
    </p>
  );
}
