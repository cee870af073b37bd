import type { PanelInfo, PanelState } from "../../api/types";
import { LoadBar } from "../../components/LoadBar";
import { Status } from "../../components/Status";
import { selected, watchOnly } from "../../store";
import { Numbers } from "./Numbers";
import css from "./Row.module.css";

export function PanelRow({ info, now, depth }: { info: PanelInfo; now: PanelState; depth: number }) {
  return (
    <div class={css.row} data-depth={depth} data-panel="true">
      <a
        class={css.name}
        href="#/floor"
        onClick={() => {
          selected.value = info.position;
        }}
      >
        <span class={css.text}>
          <span class={css.title}>
            <span class={css.word}>panel</span> {info.position}
          </span>
          <span class={css.below}>{info.kind}</span>
        </span>
      </a>
      <LoadBar asked_a={watchOnly.value ? undefined : now.asked_a} draw_a={now.draw_a} limit_a={now.limit_a} full_a={info.full_a} />
      <Numbers asked_a={now.asked_a} draw_a={now.draw_a} limit_a={now.limit_a} scale={now.scale} inAll />
      {now.impossible && (
        <p class={css.remark}>
          <Status icon="danger" tone="danger">
            Even dark it draws more than its limit
          </Status>
          {!watchOnly.value && <span>: no cap can keep this.</span>}
        </p>
      )}
    </div>
  );
}
