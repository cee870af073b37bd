import { useCallback, useEffect, useMemo, useRef, useState } from "preact/hooks";
import { answering, type SegmentAt, seen, type SurveyQuestion, type SurveyState } from "../../api/survey";
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
  useEffect(() => {
    if (question.number === 1) return;
    heading.current?.focus({ preventScroll: true });
    heading.current?.scrollIntoView({ block: "start" });
  }, []);

  const look = useCallback(
    (position: string, index: number) => {
      const one = { position, segment: index + 1 };
      if (dark.some((other) => sameSegment(other, one))) return "tapped" as const;
      return panels.get(position)?.includes(one.segment) ? ("lit" as const) : ("unlit" as const);
    },
    [dark, panels],
  );
  const countAt = (position: string) => dark.filter((one) => one.position === position).length;
  const pick = (position: string) => {
    const lit = panels.get(position) ?? [];
    // One segment is meant by a tap on its panel; of several one has to be chosen.
    if (lit.length === 1 && lit[0] !== undefined) {
      setAt(null);
      setDark(toggled(dark, { position, segment: lit[0] }));
    } else setAt(at === position ? null : position);
  };
  const mark = (position: string) => {
    const count = countAt(position);
    const lit = panels.get(position)?.length ?? 0;
    if (count > 0) return { letter: `✕${lit > 1 ? count : ""}`, word: `${count} of ${plural(lit, "lit segment")} tapped as dark`, tone: "danger" as const };
    return lit > 0 ? { letter: String(lit), word: `${plural(lit, "segment")} should be lit`, tone: "good" as const } : null;
  };
  return (
    <Card title="What is dark?" aside={`Light ${question.number} of ${question.total}`}>
      <progress class={css.progress} value={share(now)} max={1} aria-label="Lights answered" />
      <p ref={heading} class={css.question} tabIndex={-1} data-question={question.number}>
        {question.text}
      </p>
      <PanelPlan
        layout={layout}
        label="Plan with what should be lit; tap what isn't"
        look={look}
        mark={mark}
        chosen={new Set(at === null ? dark.map(({ position }) => position) : [at])}
        off={(position) => !panels.has(position)}
        blocked={blocked}
        leastPx={SEEN_PX}
        onPick={pick}
      />
      <PlanKey
        looks={[
          { look: "lit", word: "should be lit" },
          { look: "tapped", word: "you say it is dark" },
          { look: "unlit", word: "not lit in this light" },
        ]}
      />
      {at !== null && <Which key={at} position={at} lit={panels.get(at) ?? []} dark={dark} onChange={setDark} onClose={() => setAt(null)} />}
      <div class={css.bar}>
        <Barrier id="eyes-barrier" />
        <FailureNote action={answering} />
        <ActionButton action={answering} look="main" big icon="next" waiting="Sending…" blocked={blocked} reasonId="eyes-barrier" onRun={() => void seen(question.number, dark)}>
          {dark.length === 0 ? "All of it is lit" : `${plural(dark.length, "segment is", "segments are")} dark`}
        </ActionButton>
      </div>
      <p class={css.small}>{dark.length > 0 ? "Tap again what you tapped wrongly. " : ""}An answer that was sent can't be taken back: stop, and begin again if one was wrong.</p>
      <StopSurvey />
    </Card>
  );
}

interface WhichProps {
  position: string;
  lit: readonly number[];
  dark: readonly SegmentAt[];
  onChange(dark: SegmentAt[]): void;
  onClose(): void;
}

/** The lit segments of one panel, where there are several. */
function Which({ position, lit, dark, onChange, onClose }: WhichProps) {
  const box = useRef<HTMLFieldSetElement>(null);
  useEffect(() => box.current?.scrollIntoView({ block: "nearest" }), []);
  const own = dark.filter((one) => one.position === position);
  const others = dark.filter((one) => one.position !== position);
  return (
    <fieldset ref={box} class={css.which}>
      <legend>Which segments of {position} are dark?</legend>
      <div class={css.segments}>
        {lit.map((segment) => {
          const on = own.some((one) => one.segment === segment);
          return (
            <button key={segment} type="button" class={buttons.toggle} aria-pressed={on} onClick={() => onChange(toggled(dark, { position, segment }))}>
              {on ? "✕ " : ""}Segment {segment}
            </button>
          );
        })}
        <button
          type="button"
          class={buttons.toggle}
          aria-pressed={own.length === lit.length}
          onClick={() => onChange(own.length === lit.length ? others : [...others, ...lit.map((segment) => ({ position, segment }))])}
        >
          All of them
        </button>
        <button type="button" class={buttons.solid} onClick={onClose}>
          Close
        </button>
      </div>
    </fieldset>
  );
}
