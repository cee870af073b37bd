import css from "./ProgressBar.module.css";

interface Props {
  value: number;
  max: number;
  /** What is counted, for screen readers. */
  label: string;
  /** For what people watch rather than glance at. */
  thick?: boolean;
}

/** How far something is. */
export function ProgressBar({ value, max, label, thick = false }: Props) {
  return <progress class={`${css.bar} ${thick ? css.thick : ""}`} value={value} max={max} aria-label={label} />;
}
