import { useCallback, useEffect, useMemo, useRef, useState } from "preact/hooks";
import { answering, type SegmentAt, seen, type SurveyQuestion, type SurveyState, undo, undoing } from "../../api/survey";
import { ActionButton } from "../../components/ActionButton";
import { Barrier, barred } from "../../components/Barrier";
import { Card } from "../../components/Card";
import { FailureNote } from "../../components/FailureNote";
import { PanelPlan } from "../../components/PanelPlan";
import { PlanKey } from "../../components/PlanKey";
import { plural } from "../../lib/format";
import { litByPanel, sameSegment, share, toggled } from "../../lib/survey";
import type { Layout } from "../../store";
import { StopSurvey } from "./StopSurvey";
import buttons from "../../components/button.module.css";
import { ProgressBar } from "../../components/ProgressBar";
import { useLead } from "../../components/useLead";
import css from "./SurveyPage.module.css";

/** So large a panel's segments can be told apart. */
const SEEN_PX = 68;

interface Props {
  layout: Layout;
  now: SurveyState;
  question: SurveyQuestion;
}

/** One light of a survey by eyes: what should be lit, and what isn't. */
export function Eyes({ layout, now, question }: Props) {
  const [dark, setDark] = useState<SegmentAt[]>([]);
  const [at, setAt] = useState<string | null>(null);
  const heading = useRef<HTMLParagraphElement>(null);
  const panels = useMemo(() => litByPanel(question), [question]);
  const blocked = barred() !== null;
  useLead(heading, [], "start", () => question.number !== 1);

  const look = useCallback(
    (position: string, index: number) => {
      const one = { position, segment: index + 1 };
      const drawn = panels.get(position)?.includes(one.segment) ?? false;
      if (dark.some((other) => sameSegment(other, one))) return drawn ? ("tapped" as const) : ("stuck" as const);
      return drawn ? ("lit" as const) : ("unlit" as const);
    },
    [dark, panels],
  );
  const segmentsAt = (position: string) => layout.floor.panels.find((panel) => panel.position === position)?.segments.length ?? 0;
  const countAt = (position: string) => dark.filter((one) => one.position === position).length;
  const pick = (position: string) => {
    const lit = panels.get(position) ?? [];
    // One segment is meant by a tap on its panel; of several one has to be chosen.
    if (lit.length === 1 && lit[0] !== undefined && at !== position) {
      setAt(null);
      setDark(toggled(dark, { position, segment: lit[0] }));
    } else setAt(at === position ? null : position);
  };
  const mark = (position: string) => {
    const count = countAt(position);
    const lit = panels.get(position)?.length ?? 0;
    if (count > 0) return { letter: `✕${lit > 1 ? count : ""}`, word: `${plural(count, "segment")} tapped`, tone: "danger" as const };
    return lit > 0 ? { letter: String(lit), word: `${plural(lit, "segment")} should be lit`, tone: "good" as const } : null;
  };
  return (
    <Card title="What is dark?" aside={`Light ${question.number} of ${question.total}`}>
      <ProgressBar value={share(now)} max={1} label="Lights answered" thick />
      <p ref={heading} class={css.question} tabIndex={-1} data-question={question.number}>
        {question.text}
      </p>
      <PanelPlan
        layout={layout}
        label="Plan with what should be lit; tap what isn't"
        look={look}
        mark={mark}
        chosen={new Set(at === null ? dark.map(({ position }) => position) : [at])}
        blocked={blocked}
        leastPx={SEEN_PX}
        onPick={pick}
      />
      <PlanKey
        looks={[
          { look: "lit", word: "should be lit" },
          { look: "tapped", word: "you say it is dark" },
          { look: "stuck", word: "you say it gives light" },
          { look: "unlit", word: "not lit in this light" },
        ]}
      />
      {at !== null && <Which key={at} position={at} lit={panels.get(at) ?? []} segments={segmentsAt(at)} dark={dark} onChange={setDark} onClose={() => setAt(null)} />}
      <div class={css.bar}>
        <Barrier id="eyes-barrier" />
        <FailureNote action={answering} />
        <ActionButton action={answering} look="main" big icon="next" waiting="Sending…" blocked={blocked} reasonId="eyes-barrier" onRun={() => void seen(question.number, dark)}>
          {dark.length === 0 ? "All of it is as drawn" : `${plural(dark.length, "segment is", "segments are")} not as drawn`}
        </ActionButton>
      </div>
      <p class={css.small}>
        Tap what should be lit and is dark. {dark.length > 0 && "Tap it again if you tapped wrongly. "}Does something give light that shouldn't? Tap its panel, too.
      </p>
      <div class={css.row}>
        <ActionButton
          action={undoing}
          icon="back"
          waiting="Taking it back…"
          blocked={blocked || question.number === 1}
          reasonId="eyes-barrier"
          onRun={() => void undo(question.number)}
        >
          Take the last answer back
        </ActionButton>
      </div>
      <FailureNote action={undoing} />
      <StopSurvey />
    </Card>
  );
}

interface WhichProps {
  position: string;
  lit: readonly number[];
  /** How many it has. */
  segments: number;
  dark: readonly SegmentAt[];
  onChange(dark: SegmentAt[]): void;
  onClose(): void;
}

/** The segments of one panel: those that should be lit, and those that should not. */
function Which({ position, lit, segments, dark, onChange, onClose }: WhichProps) {
  const box = useRef<HTMLFieldSetElement>(null);
  useEffect(() => box.current?.scrollIntoView({ block: "nearest" }), []);
  const own = dark.filter((one) => one.position === position);
  const others = dark.filter((one) => one.position !== position);
  const all = lit.length > 0 && lit.every((segment) => own.some((one) => one.segment === segment));
  const unlit = Array.from({ length: segments }, (_, i) => i + 1).filter((segment) => !lit.includes(segment));
  const choice = (segment: number, word: string) => {
    const on = own.some((one) => one.segment === segment);
    return (
      <button key={segment} type="button" class={buttons.toggle} aria-pressed={on} onClick={() => onChange(toggled(dark, { position, segment }))}>
        {on ? "✕ " : ""}
        {word} {segment}
      </button>
    );
  };
  return (
    <fieldset ref={box} class={css.which}>
      <legend>{lit.length > 0 ? `Which segments of ${position} are dark?` : `Nothing of ${position} should be lit`}</legend>
      {lit.length > 0 && (
        <div class={css.segments}>
          {lit.map((segment) => choice(segment, "Segment"))}
          {lit.length > 1 && (
            <button
              type="button"
              class={buttons.toggle}
              aria-pressed={all}
              onClick={() => onChange(all ? others : [...others, ...lit.map((segment) => ({ position, segment }))])}
            >
              All of them
            </button>
          )}
        </div>
      )}
      {unlit.length > 0 && (
        <>
          <p class={css.small}>Gives light, but shouldn't:</p>
          <div class={css.segments}>{unlit.map((segment) => choice(segment, "Segment"))}</div>
        </>
      )}
      <button type="button" class={buttons.solid} onClick={onClose}>
        Close
      </button>
    </fieldset>
  );
}
