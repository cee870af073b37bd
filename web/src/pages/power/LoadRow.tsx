import type { LoadState } from "../../api/types";
import { Icon } from "../../components/Icon";
import { LoadBar } from "../../components/LoadBar";
import { Status } from "../../components/Status";
import { amps } from "../../lib/format";
import { measuredAt } from "../../lib/sensors";
import { state, watchOnly } from "../../store";
import { Numbers } from "./Numbers";
import css from "./Row.module.css";

interface Props {
  word: string;
  load: LoadState;
  depth: number;
  /** What opens below it. */
  below: string;
  open: boolean;
  onToggle(): void;
}

export function LoadRow({ word, load, depth, below, open, onToggle }: Props) {
  const only = watchOnly.value;
  const measured = measuredAt(state.value?.sensors ?? [], `${word} ${load.name}`);
  return (
    <div class={css.row} data-depth={depth}>
      <button type="button" class={css.name} aria-expanded={open} onClick={onToggle}>
        <span class={css.chevron}>
          <Icon name="chevron" />
        </span>
        <span class={css.text}>
          <span class={css.title}>
            <span class={css.word}>{word}</span> {load.name}
          </span>
          <span class={css.below}>
            {below}
            {measured && `, measured ${measured}`}
          </span>
        </span>
      </button>
      <LoadBar {...(only ? { draw_a: load.draw_a, limit_a: load.limit_a, rated_a: load.rated_a } : load)} />
      <Numbers {...load} />
      {load.peak && load.draw_a > load.limit_a && (
        <p class={css.remark}>
          <Status icon="info" tone="info">
            A peak above the limit
          </Status>
          <span>
            , as the floor file allows: {load.peak.left_as.toFixed(1)} of {load.peak.full_as.toFixed(1)} A·s are left.
          </span>
        </p>
      )}
      {load.level_a !== null && (
        <p class={css.remark}>
          <span>Panels that ask for more than {amps(load.level_a)} beyond dark are dimmed to that, the others are not.</span>
        </p>
      )}
      {load.impossible && (
        <p class={css.remark}>
          <Status icon="danger" tone="danger">
            Even dark it draws more than its limit
          </Status>
          <span>{only ? ": take" : ": no cap can keep this. Take"} load off this {word}.</span>
        </p>
      )}
    </div>
  );
}
