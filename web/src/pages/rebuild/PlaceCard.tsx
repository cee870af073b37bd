import { useRef, useState } from "preact/hooks";
import { type Checklist, place, unplace } from "../../api/book";
import { ActionButton } from "../../components/ActionButton";
import { Barrier, barred } from "../../components/Barrier";
import { Card } from "../../components/Card";
import { FailureNote } from "../../components/FailureNote";
import { PanelPlan, type PlanMark } from "../../components/PanelPlan";
import { PlanKey } from "../../components/PlanKey";
import { Scan } from "../../components/Scan";
import { TextField } from "../../components/TextField";
import { useAction } from "../../components/useWatched";
import { nobody, WhoField } from "../../components/WhoField";
import { argument, hashOf } from "../../lib/route";
import { who } from "../../lib/who";
import type { Layout } from "../../store";
import buttons from "../../components/button.module.css";
import form from "../../components/fields.module.css";
import { ProgressBar } from "../../components/ProgressBar";
import css from "./RebuildPage.module.css";

const LIES: PlanMark = { letter: "✓", word: "a panel is placed there", tone: "good" };

/** Serial first, then a tap where it lies. */
export function PlaceCard({ layout, list }: { layout: Layout; list: Checklist }) {
  const action = useAction();
  const [typed, setTyped] = useState(argument.value);
  const [told, setTold] = useState<string | null>(null);
  /** A position that was tapped and has a panel already. */
  const [at, setAt] = useState<string | null>(null);
  const box = useRef<HTMLDivElement>(null);
  const serial = typed.trim();
  const holder = new Map(list.placed.map((row) => [row.position, row.serial]));
  const lies = list.placed.find((row) => row.serial === serial)?.position ?? null;
  const lacks = nobody();
  const off = barred() !== null;

  const put = async (position: string) => {
    setTold(null);
    if (!(await place(action, serial, position, who.value.trim()))) return;
    setTold(`${serial} is placed at ${position}${lies !== null && lies !== position ? `, no longer at ${lies}` : ""}.`);
    setTyped("");
    setAt(null);
    box.current?.querySelector("input")?.focus({ preventScroll: true });
  };
  const tap = (position: string) => {
    const there = holder.get(position);
    setTold(null);
    if (serial !== "" && lacks === null && !off && (there === undefined || there === serial)) void put(position);
    else setAt(position === at ? null : position);
  };
  const there = at === null ? undefined : holder.get(at);
  const total = layout.floor.panels.length;
  return (
    <Card title="Place panels by their serial" aside={`${list.placed.length} of ${total} placed`}>
      <ProgressBar value={list.placed.length} max={Math.max(1, total)} label="Panels placed" />
      <div ref={box} class={form.form}>
        <TextField
          label="1. Serial"
          value={typed}
          onText={setTyped}
          exact
          hint={serial === "" ? "It stands on the panel's label." : lies !== null ? `${serial} lies at ${lies} now; it moves when you tap elsewhere.` : `${serial} is not placed yet.`}
        />
        <Scan onSerial={setTyped} />
        <WhoField />
        {lacks && <p class={form.small}>{lacks}</p>}
        <Barrier id="place-barrier" />
      </div>
      <p class={css.lead}>2. {serial === "" ? "Tap a position to see what lies there." : `Tap where ${serial} lies.`}</p>
      <p role="status" class={css.told}>
        {told}
      </p>
      <FailureNote action={action} />
      {at !== null && (
        <section class={css.asked} aria-label={`Position ${at}`}>
          <p>{there === undefined ? `At ${at} lies no panel yet. ${serial === "" ? "Type or scan a serial first." : (lacks ?? "")}` : `At ${at} lies ${there}.`}</p>
          <div class={css.row}>
            {there !== undefined && serial !== "" && there !== serial && (
              <ActionButton action={action} look="main" icon="ok" waiting="Placing…" blocked={off || lacks !== null} reasonId="place-barrier" onRun={() => void put(at)}>
                Put {serial} there instead
              </ActionButton>
            )}
            {there !== undefined && (
              <ActionButton
                action={action}
                icon="close"
                waiting="Taking it off…"
                blocked={off}
                reasonId="place-barrier"
                onRun={() => void unplace(action, at).then((done) => done && (setTold(`${there} is no longer at ${at}.`), setAt(null)))}
              >
                Take {there} off
              </ActionButton>
            )}
            {there !== undefined && (
              <a class={`${buttons.solid} ${css.link}`} href={hashOf("panel", there)}>
                Its history
              </a>
            )}
            <button type="button" class={buttons.solid} onClick={() => setAt(null)}>
              Close
            </button>
          </div>
        </section>
      )}
      <PanelPlan
        layout={layout}
        label="Plan of the floor; tap where the panel lies"
        chosen={new Set(at === null ? (lies === null ? [] : [lies]) : [at])}
        mark={(position) => {
          const own = holder.get(position);
          return own === undefined ? null : { ...LIES, word: `${own} lies there` };
        }}
        blocked={action.busy.value}
        onPick={tap}
      />
      <PlanKey looks={[]} marks={[LIES]} />
    </Card>
  );
}
