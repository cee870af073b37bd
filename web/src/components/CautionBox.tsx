import type { ComponentChildren } from "preact";
import { Icon } from "./Icon";
import css from "./CautionBox.module.css";

/** What can hurt, as list items, where the decision is taken. */
export function CautionBox({ children }: { children: ComponentChildren }) {
  return (
    <div class={css.box} role="note">
      <Icon name="warning" size={18} />
      <ul>{children}</ul>
    </div>
  );
}
