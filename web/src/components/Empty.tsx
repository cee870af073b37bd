import type { ComponentChildren } from "preact";
import { Icon, type IconName } from "./Icon";
import css from "./Empty.module.css";

interface Props {
  icon: IconName;
  title: string;
  busy?: boolean;
  children: ComponentChildren;
}

/** What stands where there is nothing to list, and what to do about it. */
export function Empty({ icon, title, busy = false, children }: Props) {
  return (
    <div class={css.empty} aria-busy={busy}>
      <Icon name={icon} size={28} />
      <h2 class={css.title}>{title}</h2>
      <p class={css.text}>{children}</p>
    </div>
  );
}
