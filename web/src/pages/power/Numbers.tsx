import { amps, percent } from "../../lib/format";
import { headroom } from "../../lib/loads";
import { Icon } from "../../components/Icon";
import { watchOnly } from "../../store";
import css from "./Numbers.module.css";

interface Props {
  asked_a: number;
  draw_a: number;
  limit_a: number | null;
  reserved_a?: number;
  scale: number;
}

/** The numbers of one line of the tree. A mark stands by those that someone should look at. */
export function Numbers({ asked_a, draw_a, limit_a, reserved_a, scale }: Props) {
  const left = headroom(draw_a, limit_a);
  const only = watchOnly.value;
  const tight = left !== null && left < 0.1;
  return (
    <dl class={css.numbers}>
      <div>
        <dt>Draw</dt>
        <dd class={css.strong}>{amps(draw_a)}</dd>
      </div>
      {!only && (
        <div>
          <dt>Asked</dt>
          <dd>{amps(asked_a)}</dd>
        </div>
      )}
      <div>
        <dt>Limit</dt>
        <dd>{amps(limit_a)}</dd>
      </div>
      <div>
        <dt>Headroom</dt>
        <dd class={tight ? css.tight : ""}>
          {tight && <Icon name="warning" size={14} />}
          {percent(left)}
        </dd>
      </div>
      {!only && (
        <>
          <div>
            <dt>Reserved</dt>
            <dd>{amps(reserved_a)}</dd>
          </div>
          <div>
            <dt>Scale</dt>
            <dd class={scale < 1 ? css.tight : ""}>
              {scale < 1 && <span class={css.corner} aria-hidden="true" />}
              {percent(scale)}
            </dd>
          </div>
        </>
      )}
    </dl>
  );
}
