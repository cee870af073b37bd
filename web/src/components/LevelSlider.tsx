import { useId } from "preact/hooks";
import css from "./LevelSlider.module.css";

interface Props {
  percent: number;
  onPercent(percent: number): void;
}

/** How bright what is lit is to be. */
export function LevelSlider({ percent, onPercent }: Props) {
  const id = useId();
  return (
    <div class={css.level}>
      <label for={id}>Level</label>
      <input
        id={id}
        type="range"
        min={0}
        max={100}
        step={5}
        value={percent}
        aria-valuetext={`${percent} %`}
        onInput={(event) => onPercent(Number(event.currentTarget.value))}
      />
      <output for={id}>{percent} %</output>
    </div>
  );
}
