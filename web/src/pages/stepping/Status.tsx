import { useEffect, useState } from "preact/hooks";
import { answering, forgetUnsent, light, lighting, tick, told, unheard, unsent } from "../../api/walk";
import type { Walk } from "../../api/types";
import { ActionButton } from "../../components/ActionButton";
import { Barrier, barred } from "../../components/Barrier";
import { FailureNote } from "../../components/FailureNote";
import { Icon } from "../../components/Icon";
import { answerWords } from "../../lib/walk";
import { pattern } from "../../store";
import css from "./Status.module.css";
import buttons from "../../components/button.module.css";

/** What another phone did, or what became of a tap. */
export function Told() {
  return (
    <div role="status">
      {told.value && (
        <p class={css.note}>
          <Icon name="info" size={18} />
          <span>{told.value}</span>
        </p>
      )}
    </div>
  );
}

/** So long an answer is only on its way; after that the daemon thinks. */
const THINKS_AFTER_MS = 700;

/** What becomes of the last tap: on its way, thought about, or not heard. */
export function Delivery() {
  const sent = unsent.value;
  const [slow, setSlow] = useState(false);
  const number = sent?.number;
  useEffect(() => {
    setSlow(false);
    if (number === undefined) return;
    const timer = setTimeout(() => setSlow(true), THINKS_AFTER_MS);
    return () => clearTimeout(timer);
  }, [number]);
  const failed = sent !== null && sent.tries > 0;
  const thinks = answering.failure.value?.code === "thinking" || (!failed && slow);
  return (
    <>
      <div role="status">
        {sent && !failed && (
          <p class={css.note} data-waits>
            <Icon name="wait" size={18} />
            <span>
              <strong>{slow ? "Thinking…" : "Sending…"}</strong> You tapped: {answerWords(sent.answer)}.
              {slow && " litfloor compares it with all that may be otherwise. With several mistakes on one floor that takes some seconds."}
            </span>
          </p>
        )}
        {failed && (
          <p class={`${css.note} ${css.warning}`} data-unsent>
            <Icon name={thinks ? "wait" : "broken"} size={18} />
            <span>
              {thinks ? (
                <>
                  <strong>litfloor is still thinking</strong> about an answer.
                </>
              ) : (
                <>
                  <strong>No answer came, but your tap is not lost.</strong>
                </>
              )}{" "}
              It is sent again by itself: {answerWords(sent.answer)}. Even if it was heard already, it counts only once.
            </span>
          </p>
        )}
      </div>
      {failed && (
        <div class={css.row}>
          <ActionButton action={answering} icon="next" waiting="Sending…" onRun={() => void tick()}>
            Send now
          </ActionButton>
          <button type="button" class={buttons.solid} onClick={forgetUnsent}>
            Choose again
          </button>
        </div>
      )}
      {!sent && <FailureNote action={answering} />}
      {!sent && unheard.value && (
        <p class={`${css.note} ${css.warning}`}>
          <Icon name="broken" size={18} />
          <span>
            <strong>litfloor does not answer now.</strong> Answer all the same: a tap is kept here and sent as soon as it can be heard.
          </span>
        </p>
      )}
    </>
  );
}

/** Id of the words that say that the light is not on. */
export const UNLIT = "unlit";

/** Says that the question's light is not on, and why, and lights it again. */
export function Unlit({ walk }: { walk: Walk }) {
  if (walk.lit) return <FailureNote action={lighting} />;
  const other = pattern.value;
  const blocked = barred() !== null;
  return (
    <section class={css.unlit} aria-label="Light">
      <p id={UNLIT} class={`${css.note} ${css.warning}`}>
        <Icon name="warning" size={18} />
        <span>
          <strong>The light of this question is not on now.</strong>{" "}
          {other ? `Another test pattern took over: ${other.what}.` : "Its time was up, it was stopped, or the browser that it ends with went away."} Don't answer
          before it is back.
        </span>
      </p>
      <ActionButton action={lighting} look="main" big icon="test" waiting="Lighting…" blocked={blocked} reasonId="unlit-barrier" onRun={() => void light()}>
        Light it again
      </ActionButton>
      {blocked && <Barrier id="unlit-barrier" />}
      <FailureNote action={lighting} />
    </section>
  );
}
