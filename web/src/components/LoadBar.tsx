import { amps } from "../lib/format";
import css from "./LoadBar.module.css";

interface Props {
  /** Left out where nothing is capped. */
  asked_a?: number | undefined;
  draw_a: number;
  reserved_a?: number | undefined;
  limit_a: number | null;
  rated_a?: number;
  /** Right end of the bar if there is no limit. */
  full_a?: number;
}

/** Draw as a fill, what was asked as an outline, what is reserved hatched, the limit as a mark. */
export function LoadBar({ asked_a = 0, draw_a, reserved_a = 0, limit_a, rated_a = 0, full_a = 0 }: Props) {
  const end = Math.max(asked_a, draw_a, reserved_a, limit_a ?? full_a, rated_a, 0.001) * 1.02;
  const share = (a: number) => `${Math.min(100, Math.max(0, (a / end) * 100))}%`;
  const label = [
    `draw ${amps(draw_a)}`,
    asked_a > 0 ? `asked ${amps(asked_a)}` : "",
    reserved_a > draw_a ? `reserved ${amps(reserved_a)}` : "",
    limit_a === null ? "no limit of its own" : `limit ${amps(limit_a)}`,
  ]
    .filter(Boolean)
    .join(", ");
  return (
    <div class={css.bar} role="img" aria-label={label} title={label}>
      {reserved_a > draw_a && (
        <span class={css.reserved} style={{ left: share(draw_a), width: share(reserved_a - draw_a) }} />
      )}
      <span class={css.draw} style={{ width: share(draw_a) }} />
      {asked_a > 0 && <span class={css.asked} style={{ width: share(asked_a) }} />}
      {limit_a !== null && <span class={css.limit} style={{ left: share(limit_a) }} />}
    </div>
  );
}
