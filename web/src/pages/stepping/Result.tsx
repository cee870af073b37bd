import { useRef } from "preact/hooks";
import { undo, undoing, unheard } from "../../api/walk";
import type { Walk } from "../../api/types";
import { ActionButton } from "../../components/ActionButton";
import { Barrier, barred } from "../../components/Barrier";
import { Card } from "../../components/Card";
import { FailureNote } from "../../components/FailureNote";
import { Icon } from "../../components/Icon";
import { useFocusOn } from "../../components/useLead";
import { plural } from "../../lib/format";
import { progressWords } from "../../lib/walk";
import type { Layout } from "../../store";
import { Plan } from "../test/Plan";
import { Begin } from "./Begin";
import { CorrectedFile } from "./CorrectedFile";
import { Ending } from "./Ending";
import { Findings } from "./Findings";
import status from "./Status.module.css";
import css from "./Result.module.css";

/** What the walk found, where, and what to do about it. */
export function Result({ layout, walk }: { layout: Layout; walk: Walk }) {
  const { report, outdated } = walk;
  const found = report.differences.length;
  const marked = new Set(report.differences.flatMap((difference) => difference.positions));
  const whole = walk.progress.done >= walk.progress.panels;
  const head = useRef<HTMLDivElement>(null);
  useFocusOn(head, []);
  return (
    <>
      <div ref={head} class={css.head} tabIndex={-1}>
        <Card title={found > 0 ? `${plural(found, "difference")} between plan and floor` : whole ? "The floor is as planned" : "Nothing found so far"} aside={progressWords(walk)}>
          {outdated && (
            <p class={`${status.note} ${status.warning}`} data-outdated>
              <Icon name="warning" size={18} />
              <span>
                <strong>The floor was replaced since.</strong> This report and its corrected file belong to the floor file before that
                {whole ? "" : "; the walk could not be finished"}. Walk the floor again before you go by it.
              </span>
            </p>
          )}
          {unheard.value && (
            <p class={`${status.note} ${status.warning}`}>
              <Icon name="broken" size={18} />
              <span>litfloor does not answer now; this is what it said last.</span>
            </p>
          )}
          <div class={css.parts}>
            <div class={css.findings}>
              {found === 0 && <AsPlanned panels={walk.progress.done} />}
              <Findings report={report} />
            </div>
            {marked.size > 0 && (
              <figure class={css.plan}>
                <Plan floor={layout.floor} marked={marked} mark="chosen" label={`Plan; named are ${[...marked].join(", ")}`} />
                <figcaption>Framed and bold: the positions that are named.</figcaption>
              </figure>
            )}
          </div>
          <div class={css.ways}>
            <ActionButton
              action={undoing}
              icon="back"
              waiting="Taking it back…"
              blocked={barred() !== null || walk.answers === 0 || outdated}
              reasonId="result-barrier"
              onRun={() => void undo()}
            >
              Take the last answer back
            </ActionButton>
            <Ending />
          </div>
          <FailureNote action={undoing} />
          <Barrier id="result-barrier" />
        </Card>
      </div>
      <CorrectedFile walk={walk} />
      <details class={css.again}>
        <summary>Walk it again…</summary>
        <Begin again />
      </details>
    </>
  );
}

/** No more is said than light can show. */
function AsPlanned({ panels }: { panels: number }) {
  return (
    <div class={css.fine}>
      <Icon name="ok" size={22} />
      <p>
        <strong>
          {plural(panels, "panel")} lit where, how and in the colours that the floor file says, as far as you were asked and looked.
        </strong>{" "}
        Light can't show which fuse, supply or circuit feeds a panel, nor whether wires and fuses are what the file says. Those you have
        to look at.
      </p>
    </div>
  );
}
