import { Icon } from "../../components/Icon";
import css from "./Caution.module.css";

export function Caution() {
  return (
    <p class={css.caution} role="note">
      <Icon name="warning" size={18} />
      <span>
        <strong>Computed from the floor file, not measured.</strong> Fuses and breakers protect people and cables; this
        page does not. What may be connected is decided by the local code and by licensed people.
      </span>
    </p>
  );
}
