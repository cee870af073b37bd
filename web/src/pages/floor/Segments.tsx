import type { PanelInfo, PanelState } from "../../api/types";
import { amps, plural } from "../../lib/format";
import css from "./Segments.module.css";

/** Draw of each run of pixels that has no joint inside. */
export function Segments({ panel, now }: { panel: PanelInfo; now: PanelState }) {
  const most = Math.max(...now.segments_a, panel.full_a / Math.max(1, panel.segments.length), 0.001);
  return (
    <ol class={css.list}>
      {panel.segments.map((pixels, i) => {
        const draw_a = now.segments_a[i] ?? 0;
        return (
          <li key={i} class={css.item}>
            <span class={css.name}>
              {i + 1} <span class={css.small}>{plural(pixels, "pixel")}</span>
            </span>
            <span class={css.bar} aria-hidden="true">
              <span class={css.fill} style={{ width: `${(draw_a / most) * 100}%` }} />
            </span>
            <span class={css.value}>{amps(draw_a)}</span>
          </li>
        );
      })}
    </ol>
  );
}
