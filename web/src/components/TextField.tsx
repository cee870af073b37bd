import { useId } from "preact/hooks";
import css from "./fields.module.css";

interface Props {
  label: string;
  value: string;
  onText(text: string): void;
  hint?: string;
  /** More than one line. */
  long?: boolean;
  /** A serial or an address, which no spelling helps. */
  exact?: boolean;
}

export function TextField({ label, value, onText, hint, long = false, exact = false }: Props) {
  const id = useId();
  const common = { id, value, maxLength: 1000, "aria-describedby": hint ? `${id}-hint` : undefined };
  return (
    <div class={css.field}>
      <label for={id}>{label}</label>
      {long ? (
        <textarea {...common} rows={2} onInput={(event) => onText(event.currentTarget.value)} />
      ) : (
        <input
          {...common}
          type="text"
          {...(exact ? { autocapitalize: "characters", autocomplete: "off" as const, spellcheck: false } : {})}
          onInput={(event) => onText(event.currentTarget.value)}
        />
      )}
      {hint && (
        <p id={`${id}-hint`} class={css.hint}>
          {hint}
        </p>
      )}
    </div>
  );
}
