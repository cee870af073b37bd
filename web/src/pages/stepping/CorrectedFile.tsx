import { useEffect } from "preact/hooks";
import { correct, corrected, correcting } from "../../api/walk";
import type { Walk } from "../../api/types";
import { ActionButton } from "../../components/ActionButton";
import { Card } from "../../components/Card";
import { Diff } from "../../components/Diff";
import { FailureNote } from "../../components/FailureNote";
import { Icon } from "../../components/Icon";
import action from "../../components/ActionButton.module.css";
import buttons from "../../components/button.module.css";
import css from "./CorrectedFile.module.css";

/** What would change in the floor file, for review; nothing is changed from here. */
export function CorrectedFile({ walk }: { walk: Walk }) {
  const { revision, answers } = walk;
  const found = walk.report.differences.length > 0;
  useEffect(() => {
    corrected.value = null;
    if (found) void correct();
  }, [revision, answers, found]);
  if (!found) return null;
  const file = corrected.value;
  const failure = correcting.failure.value;
  // Nothing is wrong when what was found has no place in the file, such as a panel that is dark.
  const nothing = failure?.code === "nothing_found" || file?.diff === "";
  return (
    <Card title="Corrected floor file" aside={file?.name}>
      {correcting.busy.value && (
        <p class={css.state} role="status">
          <Icon name="wait" size={18} /> Writing it…
        </p>
      )}
      {nothing && (
        <p class={css.state}>
          <Icon name="info" size={18} />
          <span>Nothing of what was found changes the floor file. {failure?.text}</span>
        </p>
      )}
      {failure && !nothing && (
        <div class={css.state}>
          <div>
            {failure.code === "unamended" && <p>litfloor can't write this into the file by itself; change it by hand, with the list above.</p>}
            <FailureNote action={correcting} />
            {failure.code !== "unamended" && (
              <ActionButton action={correcting} waiting="Writing it…" onRun={() => void correct()}>
                Ask again
              </ActionButton>
            )}
          </div>
        </div>
      )}
      {file && file.diff !== "" && (
        <>
          <p class={css.lead}>Nothing has been changed yet. Lines with + come in, lines with − go out; comments stay.</p>
          <Diff diff={file.diff} />
          <a class={`${buttons.solid} ${action.main} ${action.big} ${css.save}`} href="/api/v1/stepping/corrected.toml" download>
            <Icon name="down" size={20} />
            Download the corrected file
          </a>
          <ol class={css.steps}>
            <li>Read it through, line by line: you know the floor, litfloor only saw your taps.</li>
            <li>
              On the machine that litfloor runs on, keep the old floor file, put this one in its place, and try it with <code>litfloor check</code>.
            </li>
            <li>
              On the page <em>Patch</em> have litfloor read the file again, and walk the panels named above once more.
            </li>
            <li>
              Patch the console by the new sheet (<code>litfloor patch</code>): it still sends each picture to the slots of before. Who moves the
              panels or wires instead changes neither file nor console.
            </li>
          </ol>
        </>
      )}
    </Card>
  );
}
