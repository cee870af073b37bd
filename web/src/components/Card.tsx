import type { ComponentChildren } from "preact";
import { useId } from "preact/hooks";
import css from "./Card.module.css";

interface Props {
  title: string;
  /** What stands at the end of the heading's line. */
  aside?: ComponentChildren;
  children: ComponentChildren;
}

export function Card({ title, aside, children }: Props) {
  const id = useId();
  return (
    <section class={css.card} aria-labelledby={id}>
      <div class={css.head}>
        <h2 id={id} class={css.title}>
          {title}
        </h2>
        {aside && <div class={css.aside}>{aside}</div>}
      </div>
      {children}
    </section>
  );
}
