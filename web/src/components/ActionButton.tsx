import type { ComponentChildren } from "preact";
import type { Action } from "../lib/action";
import { guest } from "../store";
import { Icon, type IconName } from "./Icon";
import css from "./ActionButton.module.css";
import buttons from "./button.module.css";

interface Props {
  action: Action;
  /** What the button says while an answer is waited for. */
  waiting: string;
  icon?: IconName;
  /** `main`: what the page is for; `stop`: ends something. */
  look?: "plain" | "main" | "stop";
  big?: boolean;
  type?: "button" | "submit";
  /** It can't be done now; the element `reasonId` says why. */
  blocked?: boolean;
  reasonId?: string;
  onRun?(): void;
  children: ComponentChildren;
}

/** A button whose answer comes over the network. It keeps the focus while it waits, and can't be pressed twice. */
export function ActionButton(props: Props) {
  const { action, waiting, icon, look = "plain", big = false, type = "button", blocked = false, reasonId, onRun, children } = props;
  if (guest.value) return null;
  const busy = action.busy.value;
  const off = busy || blocked;
  return (
    <button
      type={type}
      class={`${buttons.solid} ${css[look]} ${big ? css.big : ""}`}
      aria-disabled={off}
      aria-describedby={blocked ? reasonId : undefined}
      onClick={(event) => {
        if (off) event.preventDefault();
        else onRun?.();
      }}
    >
      {busy ? <Icon name="wait" size={18} /> : icon && <Icon name={icon} size={18} />}
      {busy ? waiting : children}
    </button>
  );
}
