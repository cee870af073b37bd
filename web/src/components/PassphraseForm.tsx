import { useId, useState } from "preact/hooks";
import type { Action } from "../lib/action";
import { ActionButton } from "./ActionButton";
import { FailureNote } from "./FailureNote";
import css from "./PassphraseForm.module.css";

interface Props {
  action: Action;
  label: string;
  hint?: string;
  autocomplete: "current-password" | "new-password";
  button: string;
  waiting: string;
  send(passphrase: string): Promise<void>;
}

export function PassphraseForm({ action, label, hint, autocomplete, button, waiting, send }: Props) {
  const id = useId();
  const [text, setText] = useState("");
  const [shown, setShown] = useState(false);
  const submit = (event: Event) => {
    event.preventDefault();
    if (text !== "" && !action.busy.value) void send(text);
  };
  return (
    <form class={css.form} onSubmit={submit}>
      {/* Password managers file a passphrase under a name. */}
      <input class={css.hidden} type="text" name="username" value="operator" autocomplete="username" readOnly tabIndex={-1} aria-hidden="true" />
      <label class={css.label} for={id}>
        {label}
      </label>
      <input
        id={id}
        class={css.field}
        {...(shown ? { type: "text" as const } : { type: "password" as const })}
        autocomplete={autocomplete}
        autocapitalize="none"
        spellcheck={false}
        autofocus
        required
        aria-describedby={hint ? `${id}-hint` : undefined}
        value={text}
        onInput={(event) => setText(event.currentTarget.value)}
      />
      {hint && (
        <p id={`${id}-hint`} class={css.hint}>
          {hint}
        </p>
      )}
      <label class={css.check}>
        <input type="checkbox" checked={shown} onChange={(event) => setShown(event.currentTarget.checked)} />
        Show it
      </label>
      <FailureNote action={action} />
      <ActionButton action={action} type="submit" look="main" waiting={waiting}>
        {button}
      </ActionButton>
    </form>
  );
}
