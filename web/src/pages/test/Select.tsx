import { useId } from "preact/hooks";
import css from "./form.module.css";

interface Props {
  label: string;
  value: string;
  options: { value: string; text: string }[];
  onPick(value: string): void;
}

export function Select({ label, value, options, onPick }: Props) {
  const id = useId();
  return (
    <div class={css.field}>
      <label for={id}>{label}</label>
      <select id={id} value={value} onChange={(event) => onPick(event.currentTarget.value)}>
        {options.map((option) => (
          <option key={option.value} value={option.value}>
            {option.text}
          </option>
        ))}
      </select>
    </div>
  );
}
