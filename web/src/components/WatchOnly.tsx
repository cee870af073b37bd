import { Icon } from "./Icon";
import css from "./WatchOnly.module.css";

/** Said wherever a limit or a picture might make someone believe that it is kept. */
export function WatchOnly() {
  return (
    <p class={css.note} role="note">
      <Icon name="info" size={18} />
      <span>
        <strong>litfloor only watches here and holds nothing back.</strong> The floor file names no nodes, so the light
        goes its own way: a limit that is passed is told, not kept.
      </span>
    </p>
  );
}
