import { diffLines } from "../lib/walk";
import css from "./Diff.module.css";

const SIGN = { added: "+", removed: "−", same: " ", place: "" } as const;

/** What would change in a file, line by line. */
export function Diff({ diff }: { diff: string }) {
  return (
    <div class={css.diff} data-scrolls role="region" aria-label="What changes in the floor file" tabIndex={0}>
      <div class={css.sheet}>
        {diffLines(diff).map((line, at) => (
          <div key={at} class={css[line.kind]} data-line={line.kind}>
            {line.kind !== "place" && <span class={css.sign}>{SIGN[line.kind]}</span>}
            <code>{line.text}</code>
          </div>
        ))}
      </div>
    </div>
  );
}
