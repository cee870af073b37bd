import css from "./Legend.module.css";

/** What the ribbons' signs mean. */
export function Legend() {
  return (
    <ul class={css.legend} aria-label="What the ribbons show">
      <li>
        <i class={`${css.cell} ${css.moving}`} aria-hidden="true" /> moves (changed within 2 s)
      </li>
      <li>
        <i class={`${css.cell} ${css.still}`} aria-hidden="true" /> lit and still
      </li>
      <li>
        <i class={css.cell} aria-hidden="true" /> dark and still
      </li>
      <li>
        <i class={`${css.cell} ${css.none}`} aria-hidden="true" /> not in the frame
      </li>
      <li>
        <i class={`${css.cell} ${css.band}`} aria-hidden="true" /> outlined and named: a panel's slots
      </li>
    </ul>
  );
}
