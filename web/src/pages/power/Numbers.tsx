import type { ComponentChildren } from "preact";
import { Icon } from "../../components/Icon";
import { amps, percent } from "../../lib/format";
import { headroom } from "../../lib/loads";
import { meaning, type Word } from "../../lib/words";
import { watchOnly } from "../../store";
import css from "./Numbers.module.css";

interface Props {
  asked_a: number;
  draw_a: number;
  limit_a: number | null;
  /** What the limit is a share of. */
  rated_a?: number;
  /** A panel has none of its own: it is kept where its path is. */
  reserved_a?: number;
  silent_a?: number;
  scale: number;
  /** A panel's scale is that of its whole path; all else has its own. */
  inAll?: boolean;
}

/** The numbers of one line of the tree. A mark stands by those that someone should look at. */
export function Numbers({ asked_a, draw_a, limit_a, rated_a, reserved_a, silent_a = 0, scale, inAll = false }: Props) {
  const left = headroom(draw_a, limit_a);
  const capped = !watchOnly.value;
  return (
    <dl class={css.numbers}>
      <Cell word="Draw" kind={css.strong}>
        {amps(draw_a)}
      </Cell>
      {capped && <Cell word="Asked">{amps(asked_a)}</Cell>}
      <Cell word="Limit" below={rated_a === undefined ? undefined : `rated ${amps(rated_a)}`}>
        {amps(limit_a)}
      </Cell>
      <Cell word="Headroom" kind={left === null || left >= 0.1 ? undefined : left < 0 ? css.over : css.tight}>
        {left !== null && left < 0.1 && <Icon name={left < 0 ? "danger" : "warning"} size={14} />}
        {percent(left)}
      </Cell>
      {capped && (
        <Cell word="Reserved" below={silent_a > 0 ? `${amps(silent_a)} silent` : undefined}>
          {amps(reserved_a)}
        </Cell>
      )}
      {capped && (
        <Cell
          word={inAll ? "Scale in all" : "Own scale"}
          kind={scale < 1 ? css.tight : undefined}
          below={inAll ? "in all" : "own"}
        >
          {scale < 1 && <span class={css.corner} aria-hidden="true" />}
          {percent(scale)}
        </Cell>
      )}
    </dl>
  );
}

interface CellProps {
  word: Word;
  kind?: string | undefined;
  /** Small, under the number. */
  below?: string | undefined;
  children: ComponentChildren;
}

function Cell({ word, kind, below, children }: CellProps) {
  return (
    <div title={meaning(word, watchOnly.value)}>
      <dt>{word}</dt>
      <dd>
        <span class={kind}>{children}</span>
        {below && <span class={`${css.below} ${word === "Own scale" || word === "Scale in all" ? css.wideOnly : ""}`}>{below}</span>}
      </dd>
    </div>
  );
}
