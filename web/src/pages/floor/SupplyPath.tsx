import type { LoadGroup, LoadState, PanelInfo, State } from "../../api/types";
import { LoadBar } from "../../components/LoadBar";
import { amps, percent } from "../../lib/format";
import { GROUP_WORD, headroom } from "../../lib/loads";
import { meaning } from "../../lib/words";
import { watchOnly } from "../../store";
import css from "./SupplyPath.module.css";

/** Feed → supply → circuit of one panel, each with what it has left. */
export function SupplyPath({ panel, state }: { panel: PanelInfo; state: State }) {
  const steps: [LoadGroup, LoadState | undefined][] = [
    ["feeds", state.feeds.find((l) => l.name === panel.feed)],
    ["supplies", state.supplies.find((l) => l.name === panel.supply)],
    ["circuits", state.circuits.find((l) => l.name === panel.circuit)],
  ];
  const only = watchOnly.value;
  return (
    <ol class={css.path}>
      {steps.map(
        ([group, load]) =>
          load && (
            <li key={group} class={css.step}>
              <div class={css.line}>
                <span>
                  <span class={css.group}>{GROUP_WORD[group]}</span> {load.name}
                </span>
                <span class={css.numbers}>
                  {amps(load.draw_a)} of {amps(load.limit_a)}
                </span>
              </div>
              <LoadBar {...(only ? { draw_a: load.draw_a, limit_a: load.limit_a, rated_a: load.rated_a } : load)} />
              <div class={css.line}>
                <span class={css.small}>headroom {percent(headroom(load.draw_a, load.limit_a))}</span>
                <span class={css.small} title={only ? undefined : meaning("Own scale", false)}>
                  {load.impossible
                    ? "even dark it draws more than the limit"
                    : only
                      ? load.draw_a > load.limit_a && "over its limit"
                      : `own scale ${percent(load.scale)}`}
                </span>
              </div>
            </li>
          ),
      )}
    </ol>
  );
}
