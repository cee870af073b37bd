import type { ComponentChildren } from "preact";
import css from "./Fact.module.css";

/** A name and its value inside a `dl`. */
export function Fact({ name, wide, children }: { name: string; wide?: boolean; children: ComponentChildren }) {
  return (
    <div class={`${css.fact} ${wide ? css.wide : ""}`}>
      <dt>{name}</dt>
      <dd>{children}</dd>
    </div>
  );
}
