import type { ComponentChildren } from "preact";
import { useId } from "preact/hooks";
import type { Action } from "../lib/action";
import { ActionButton } from "./ActionButton";
import { Barrier, barred } from "./Barrier";
import { FailureNote } from "./FailureNote";
import { Icon, type IconName } from "./Icon";
import css from "./Launch.module.css";

/** Whether a form can't be sent: it lacks something, or nothing can be changed from here. */
export const held = (lacks: string | null) => barred() !== null || lacks !== null;

interface Props {
  action: Action;
  icon: IconName;
  waiting: string;
  /** What the form lacks, in words; null if nothing. */
  lacks: string | null;
  children: ComponentChildren;
}

/** The end of a form that lights something: why it can't be sent, what went wrong, and its button. */
export function Launch({ action, icon, waiting, lacks, children }: Props) {
  const id = useId();
  return (
    <>
      {lacks && (
        <p id={`${id}-lacks`} class={css.lacks}>
          <Icon name="info" size={18} /> {lacks}
        </p>
      )}
      <Barrier id={`${id}-barrier`} />
      <FailureNote action={action} />
      <ActionButton
        action={action}
        type="submit"
        look="main"
        big
        icon={icon}
        waiting={waiting}
        blocked={held(lacks)}
        reasonId={lacks ? `${id}-lacks` : `${id}-barrier`}
      >
        {children}
      </ActionButton>
    </>
  );
}
