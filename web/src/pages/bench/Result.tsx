import { useState } from "preact/hooks";
import { type Signature, writeBench } from "../../api/book";
import { Card } from "../../components/Card";
import { held, Launch } from "../../components/Launch";
import { TextField } from "../../components/TextField";
import { useAction } from "../../components/useWatched";
import { nobody, WhoField } from "../../components/WhoField";
import { wrongWords } from "../../lib/bench";
import { signatureWords } from "../../lib/book";
import { hashOf } from "../../lib/route";
import { who } from "../../lib/who";
import { Pick } from "../test/Pick";
import action_ from "../../components/ActionButton.module.css";
import buttons from "../../components/button.module.css";
import form from "../../components/fields.module.css";
import css from "./Test.module.css";

interface Props {
  serial: string;
  wrong: readonly string[];
  signature: Signature | null;
  onNext(): void;
}

/** Pass or fail, for the book. */
export function Result({ serial, wrong, signature, onNext }: Props) {
  const action = useAction();
  const [passed, setPassed] = useState(wrong.length === 0);
  const [note, setNote] = useState(wrongWords(wrong));
  const [kept, setKept] = useState(false);
  const lacks = nobody();
  if (kept) {
    return (
      <Card title={`Bench: ${serial}`}>
        <p role="status" class={css.see}>
          {serial} {passed ? "passed" : "failed"}; it stands in the book.
        </p>
        <div class={css.row}>
          <button type="button" class={`${buttons.solid} ${action_.main}`} onClick={onNext}>
            Next panel
          </button>
          <a class={`${buttons.solid} ${css.link}`} href={hashOf("panel", serial)}>
            Its history
          </a>
          <a class={`${buttons.solid} ${css.link}`} href={hashOf("labels", serial)}>
            Print its label
          </a>
        </div>
      </Card>
    );
  }
  return (
    <Card title={`Bench: ${serial}`} aside="All steps done">
      <form
        class={form.form}
        onSubmit={(event) => {
          event.preventDefault();
          if (held(lacks)) return;
          void writeBench(action, serial, { passed, who: who.value.trim(), note: note.trim(), signature }).then((done) => done && setKept(true));
        }}
      >
        <p>{wrong.length === 0 ? "Every light was right." : wrongWords(wrong)}</p>
        <p class={css.small}>{signature ? `Signature: ${signatureWords(signature)}. It is what the sensor saw: the idle current of other panels at it is in every figure.` : "No signature: no sensor saw it."}</p>
        <fieldset class={form.group}>
          <legend>Did it pass?</legend>
          <div class={form.two}>
            <Pick name="passed" chosen={passed} onPick={() => setPassed(true)}>
              Pass
            </Pick>
            <Pick name="passed" chosen={!passed} onPick={() => setPassed(false)}>
              Fail
            </Pick>
          </div>
        </fieldset>
        <TextField label="Note (if you like)" value={note} onText={setNote} long />
        <WhoField />
        <Launch action={action} icon="ok" waiting="Writing…" lacks={lacks}>
          Write it into the book
        </Launch>
      </form>
    </Card>
  );
}
