import { watchOnly } from "../../store";
import css from "./BarKey.module.css";

/** What the parts of a bar mean. */
export function BarKey({ margin }: { margin: string }) {
  return (
    <ul class={css.key} aria-label="Parts of a bar">
      <li>
        <span class={css.draw} aria-hidden="true" /> draw
      </li>
      {!watchOnly.value && (
        <>
          <li>
            <span class={css.asked} aria-hidden="true" /> asked
          </li>
          <li>
            <span class={css.reserved} aria-hidden="true" /> reserved for lost datagrams
          </li>
        </>
      )}
      <li>
        <span class={css.limit} aria-hidden="true" /> limit, {margin} of the rating
      </li>
    </ul>
  );
}
