import { useId } from "preact/hooks";
import { dialogOpen } from "../api/operator";
import { reload, reloaded, reloading } from "../api/reload";
import type { Floor, State } from "../api/types";
import { ago, plural } from "../lib/format";
import { rights } from "../store";
import { ActionButton } from "./ActionButton";
import { Card } from "./Card";
import { FailureNote } from "./FailureNote";
import { Icon } from "./Icon";
import css from "./FloorFile.module.css";

/** The floor file, and what came of reading it again. */
export function FloorFile({ floor, state }: { floor: Floor; state: State }) {
  const why = useId();
  const { file, uptime_s } = state;
  const since = (at_s: number) => ago(Math.max(0, uptime_s - at_s));
  const done = reloaded.value;
  return (
    <Card title="Floor file" aside={`taken ${since(file.taken_s)}`}>
      <p class={css.name}>{file.name}</p>
      {file.refusal && (
        <div class={css.refused} role="alert">
          <p class={css.told}>
            <Icon name="warning" size={18} />
            <span>
              Read again {since(file.refusal.at_s)} and not taken: {plural(file.refusal.count, "fault")}. The floor of before goes on.
            </span>
          </p>
          <ol class={css.faults}>
            {file.refusal.faults.map((fault) => (
              <li key={`${fault.line} ${fault.column} ${fault.message}`}>
                {fault.line !== null && <strong>Line {fault.line}: </strong>}
                {fault.message}. <span class={css.help}>{fault.help}.</span>
              </li>
            ))}
          </ol>
          {file.refusal.count > file.refusal.faults.length && (
            <p class={css.help}>And {plural(file.refusal.count - file.refusal.faults.length, "more", "more")}: litfloor check shows all.</p>
          )}
        </div>
      )}
      {done && !file.refusal && (
        <div class={css.done} role="status">
          <p class={css.told}>
            <Icon name="ok" size={18} />
            <span>Taken: {done.name}.</span>
          </p>
          {done.cautions.length > 0 && (
            <ul class={css.faults}>
              {done.cautions.map((caution) => (
                <li key={caution}>Caution: {caution}.</li>
              ))}
            </ul>
          )}
        </div>
      )}
      <div class={css.act}>
        <ActionButton
          action={reloading}
          waiting="Reading …"
          blocked={floor.simulated}
          reasonId={why}
          onRun={() => {
            if (rights.value && !rights.value.may_control) dialogOpen.value = true;
            else void reload();
          }}
        >
          Read the file again
        </ActionButton>
        <p id={why} class={css.help}>
          {floor.simulated
            ? "The demo's floor is part of the program: there is no file to read."
            : "A sound file takes over between two frames. A faulty one changes nothing."}
        </p>
      </div>
      <FailureNote action={reloading} />
    </Card>
  );
}
