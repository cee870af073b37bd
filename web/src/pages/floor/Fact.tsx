import type { ComponentChildren } from "preact";
import css from "./Fact.module.css";

interface Props {
  name: string;
  wide?: boolean;
  title?: string | undefined;
  children: ComponentChildren;
}

/** A name and its value inside a `dl`. */
export function Fact({ name, wide, title, children }: Props) {
  return (
    <div class={`${css.fact} ${wide ? css.wide : ""}`} title={title}>
      <dt>{name}</dt>
      <dd>{children}</dd>
    </div>
  );
}
