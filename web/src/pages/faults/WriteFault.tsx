import { useState } from "preact/hooks";
import { writeFault } from "../../api/book";
import type { Floor } from "../../api/types";
import { Card } from "../../components/Card";
import { held, Launch } from "../../components/Launch";
import { TextField } from "../../components/TextField";
import { useAction } from "../../components/useWatched";
import { nobody, WhoField } from "../../components/WhoField";
import { who } from "../../lib/who";
import form from "../../components/fields.module.css";

/** A fault that nobody measures: a cracked plate, a missing screw. */
export function WriteFault({ floor }: { floor: Floor }) {
  const action = useAction();
  const [where, setWhere] = useState("");
  const [text, setText] = useState("");
  const word = where.trim();
  const position = floor.panels.find((panel) => panel.position === word.toUpperCase())?.position;
  const lacks = word === "" ? "Say which panel: its position or its serial." : text.trim() === "" ? "Say what is wrong." : nobody();
  return (
    <Card title="Write a fault into the book">
      <details class={form.more}>
        <summary>By hand: a cracked plate, a missing screw…</summary>
        <form
          class={form.form}
          onSubmit={(event) => {
            event.preventDefault();
            if (held(lacks)) return;
            void writeFault(action, position ? { position } : { serial: word }, text.trim(), who.value.trim()).then((done) => {
              if (!done) return;
              setText("");
              setWhere("");
            });
          }}
        >
          <TextField label="Panel" value={where} onText={setWhere} exact hint={word === "" ? "A position such as C4, or a serial." : position ? `The panel at ${position}.` : `The panel with the serial ${word}.`} />
          <TextField label="What is wrong" value={text} onText={setText} long />
          <WhoField />
          <Launch action={action} icon="plus" waiting="Writing…" lacks={lacks}>
            Write it down
          </Launch>
        </form>
      </details>
    </Card>
  );
}
