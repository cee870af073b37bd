import { Icon, type IconName } from "./Icon";
import css from "./Status.module.css";

export type Tone = "good" | "warning" | "danger" | "info" | "quiet";

/** A word with its icon. */
export function Status({ icon, tone, children }: { icon: IconName; tone: Tone; children: string }) {
  return (
    <span class={css.status} data-tone={tone}>
      <Icon name={icon} />
      <span>{children}</span>
    </span>
  );
}
