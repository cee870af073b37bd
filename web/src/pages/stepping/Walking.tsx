import { useEffect, useRef } from "preact/hooks";
import { answer, settling, undo, undoing, unsent } from "../../api/walk";
import type { Question, Walk } from "../../api/types";
import { ActionButton } from "../../components/ActionButton";
import { Barrier } from "../../components/Barrier";
import { Card } from "../../components/Card";
import { FailureNote } from "../../components/FailureNote";
import { plural } from "../../lib/format";
import { progressWords } from "../../lib/walk";
import { type Layout, rights } from "../../store";
import { Asked } from "./Asked";
import { Ending } from "./Ending";
import { Findings } from "./Findings";
import { Delivery, Unlit } from "./Status";
import { ProgressBar } from "../../components/ProgressBar";
import { useLead } from "../../components/useLead";
import css from "./Walking.module.css";

interface Props {
  layout: Layout;
  walk: Walk;
  question: Question;
}

/** The open question, how far the walk is, and the ways back and out. */
export function Walking({ layout, walk, question }: Props) {
  const heading = useRef<HTMLParagraphElement>(null);
  const first = useRef(true);
  // A new question is read from its beginning, wherever the last one was tapped.
  // Whoever has only come sees the page from its top.
  useLead(heading, [question.number], "start", () => !first.current || window.scrollY > 0);
  useEffect(() => {
    first.current = false;
  }, []);
  const may = rights.value?.may_control === true;
  const blocked = !may || unsent.value !== null || settling.value || undoing.busy.value;
  const { done, panels } = walk.progress;
  return (
    <>
      <Card title="What do you see?" aside={progressWords(walk)}>
        <ProgressBar value={done} max={Math.max(1, panels)} label="Panels done" />
        <p ref={heading} class={css.question} tabIndex={-1} data-question={question.number}>
          {question.text}
        </p>
        <Unlit walk={walk} />
        {!may && <Barrier id="walk-barrier" />}
        <Delivery />
        <Asked key={question.number} layout={layout} question={question} colours={walk.colours} blocked={blocked} lit={walk.lit} onAnswer={answer} />
      </Card>
      <Card title="The walk">
        <div class={css.ways}>
          <ActionButton
            action={undoing}
            icon="back"
            waiting="Taking it back…"
            blocked={!may || walk.answers === 0 || unsent.value !== null}
            reasonId="undo-why"
            onRun={() => void undo()}
          >
            Take the last answer back
          </ActionButton>
          <Ending />
        </div>
        <p id="undo-why" class={css.small}>
          {walk.answers === 0 ? "There is no answer to take back yet." : "Tapped wrongly? Take answers back one by one; the question comes again."} The walk stays in
          litfloor: close this page or go on with another phone. It is lost when litfloor starts again.
        </p>
        <FailureNote action={undoing} />
        {walk.report.differences.length > 0 && (
          <details class={css.found}>
            <summary>So far: {plural(walk.report.differences.length, "difference")}</summary>
            <Findings report={walk.report} />
          </details>
        )}
      </Card>
    </>
  );
}
