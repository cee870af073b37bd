import type { Floor } from "../../api/types";
import { type Choice, columnsOf, hasSteps, rowsOf, runName, STEPS_S } from "../../lib/pattern";
import { choose } from "./choice";
import { Pick } from "./Pick";
import { Plan } from "./Plan";
import { Select } from "./Select";
import css from "./form.module.css";

interface Props {
  floor: Floor;
  choice: Choice;
}

/** Which one of the chosen kind, and how it steps. */
export function Target({ floor, choice }: Props) {
  return (
    <>
      <Which floor={floor} choice={choice} />
      {hasSteps(choice.kind) && <Steps floor={floor} choice={choice} />}
    </>
  );
}

function Which({ floor, choice }: Props) {
  const runs = floor.runs.map((_, at) => ({ value: String(at), text: runName(floor, at) }));
  switch (choice.kind) {
    case "panel":
      return (
        <>
          <Select
            label="Panel"
            value={choice.position}
            options={floor.panels.map((panel) => ({ value: panel.position, text: `${panel.position} – run ${panel.run + 1}${panel.node ? `, ${panel.node}` : ""}` }))}
            onPick={(position) => choose(floor, { position })}
          />
          <p class={css.about}>Or tap it on the plan:</p>
          <Plan
            floor={floor}
            marked={new Set([choice.position])}
            mark="chosen"
            label={`Plan; chosen: ${choice.position}`}
            onTap={(position) => choose(floor, { position })}
          />
        </>
      );
    case "walk":
      return (
        <Select
          label="Along"
          value={choice.run === null ? "" : String(choice.run)}
          options={[{ value: "", text: "All runs, one after the other" }, ...runs]}
          onPick={(run) => choose(floor, { run: run === "" ? null : Number(run) })}
        />
      );
    case "run":
      return <Select label="Run" value={String(choice.run ?? 0)} options={runs} onPick={(run) => choose(floor, { run: Number(run) })} />;
    case "row":
      return <Select label="Row" value={String(choice.row)} options={rowsOf(floor).map((row) => plain(String(row)))} onPick={(row) => choose(floor, { row: Number(row) })} />;
    case "column":
      return <Select label="Column" value={choice.column} options={columnsOf(floor).map(plain)} onPick={(column) => choose(floor, { column })} />;
    case "node":
      return (
        <Select
          label="Node"
          value={choice.node}
          options={floor.nodes.map(({ name, address }) => ({ value: name, text: `${name} – ${address}` }))}
          onPick={(node) => choose(floor, { node })}
        />
      );
    case "universe":
      return (
        <Select
          label="Universe"
          value={choice.portAddress}
          options={floor.universes.map(({ port_address }) => plain(port_address))}
          onPick={(portAddress) => choose(floor, { portAddress })}
        />
      );
    default:
      return null;
  }
}

const plain = (text: string) => ({ value: text, text });

function Steps({ floor, choice }: Props) {
  return (
    <div class={css.steps}>
      <div class={css.two}>
        <Pick name="pace" chosen={!choice.auto} onPick={() => choose(floor, { auto: false })}>
          By button
        </Pick>
        <Pick name="pace" chosen={choice.auto} onPick={() => choose(floor, { auto: true })}>
          By itself
        </Pick>
      </div>
      {choice.auto && (
        <Select
          label="Each step"
          value={String(choice.stepS)}
          options={STEPS_S.map((s) => ({ value: String(s), text: `${s} s` }))}
          onPick={(s) => choose(floor, { stepS: Number(s) })}
        />
      )}
    </div>
  );
}
