import { watchOnly } from "../../store";
import css from "./LineKey.module.css";

/** The lines of a chart differ by their dashes as well as by colour. */
export function LineKey({ band }: { band: boolean }) {
  return (
    <ul class={css.key} aria-label="Lines">
      <Line word={band ? "average draw" : "draw"} kind={css.draw} dash="" width={2.5} />
      {band && (
        <li>
          <span class={css.band} aria-hidden="true" /> least to most
        </li>
      )}
      {!watchOnly.value && <Line word="asked" kind={css.asked} dash="5 4" width={2} />}
      <Line word="limit" kind={css.limit} dash="12 3 2 3" width={2} />
    </ul>
  );
}

function Line({ word, kind, dash, width }: { word: string; kind: string | undefined; dash: string; width: number }) {
  return (
    <li>
      <svg width="38" height="10" viewBox="0 0 38 10" aria-hidden="true" class={kind}>
        <path d="M1 5h36" stroke="currentColor" stroke-width={width} stroke-dasharray={dash} />
      </svg>
      {word}
    </li>
  );
}
