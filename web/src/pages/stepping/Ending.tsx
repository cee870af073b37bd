import { useRef } from "preact/hooks";
import { end, ending } from "../../api/walk";
import { ActionButton } from "../../components/ActionButton";
import { barred } from "../../components/Barrier";
import { FailureNote } from "../../components/FailureNote";
import buttons from "../../components/button.module.css";
import css from "./Ending.module.css";

/** Ends the walk after a question, for its answers can't be had back. */
export function Ending() {
  const dialog = useRef<HTMLDialogElement>(null);
  const close = () => dialog.current?.close();
  const blocked = barred() !== null;
  return (
    <>
      <button type="button" class={buttons.solid} aria-disabled={blocked} onClick={() => !blocked && dialog.current?.showModal()}>
        End the walk…
      </button>
      <dialog ref={dialog} class={css.dialog} aria-labelledby="ending-title">
        <h2 id="ending-title">End the walk?</h2>
        <p>Its answers and its report are lost, on every phone, and its light ends. If you want the corrected file, save it first.</p>
        <FailureNote action={ending} />
        <div class={css.row}>
          <button type="button" class={buttons.solid} onClick={close}>
            Keep it
          </button>
          <ActionButton action={ending} look="stop" icon="close" waiting="Ending…" blocked={blocked} onRun={() => void end()}>
            End the walk
          </ActionButton>
        </div>
      </dialog>
    </>
  );
}
