import css from "./Computed.module.css";

/** Stands beside currents, so that nobody takes them for a reading. */
export function Computed() {
  return (
    <p class={css.computed} role="note">
      Computed, not measured.
    </p>
  );
}
