import type { ComponentChildren } from "preact";
import type { PlanMark, SegmentLook } from "./PanelPlan";
import { STROKE } from "./PanelPlan";
import css from "./PlanKey.module.css";
import plan from "./PanelPlan.module.css";

const SIDE = 60;

interface Props {
  looks: readonly { look: SegmentLook; word: string; count?: number }[];
  marks?: readonly PlanMark[];
  children?: ComponentChildren;
}

/** What the strokes and letters of a plan mean, and how many there are of each. */
export function PlanKey({ looks, marks = [], children }: Props) {
  return (
    <ul class={css.key} aria-label="What the plan shows">
      {looks.map(({ look, word, count }) => (
        <li key={look}>
          <svg class={css.sample} viewBox="0 0 40 12" aria-hidden="true">
            <path
              class={`${plan[look]} ${css.line}`}
              d="M6 6H34"
              stroke-width={STROKE[look].wide * SIDE}
              stroke-dasharray={STROKE[look].dashes?.map((part) => part * SIDE).join(" ")}
            />
          </svg>
          {word}
          {count !== undefined && <strong> {count}</strong>}
        </li>
      ))}
      {marks.map(({ letter, word, tone }) => (
        <li key={letter}>
          <span class={`${plan.mark} ${css.letter}`} data-tone={tone} aria-hidden="true">
            {letter}
          </span>
          {word}
        </li>
      ))}
      {children}
    </ul>
  );
}
