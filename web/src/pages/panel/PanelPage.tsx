import { useLayoutEffect, useState } from "preact/hooks";
import { bookPanel, type BookPanel, labelPath, turnToPanel, writeNote } from "../../api/book";
import type { State } from "../../api/types";
import { Card } from "../../components/Card";
import { Barrier } from "../../components/Barrier";
import { Empty } from "../../components/Empty";
import { Icon } from "../../components/Icon";
import { held, Launch } from "../../components/Launch";
import { LightThis } from "../../components/LightThis";
import { NotForGuests } from "../../components/NotForGuests";
import { Sections } from "../../components/Sections";
import { TextField } from "../../components/TextField";
import { Stale, Unseen } from "../../components/Unseen";
import { useAction, useWatched } from "../../components/useWatched";
import { nobody, WhoField } from "../../components/WhoField";
import { moment } from "../../lib/book";
import { argument, hashOf } from "../../lib/route";
import { who } from "../../lib/who";
import type { Layout } from "../../store";
import { Benches, Faults, Positions } from "./History";
import buttons from "../../components/button.module.css";
import form from "../../components/fields.module.css";
import css from "./PanelPage.module.css";

const EVERY_MS = 10_000;

/** All that the book knows of one panel; the labels' codes lead here. */
export function PanelPage({ layout }: { layout: Layout; state: State }) {
  const serial = argument.value;
  useLayoutEffect(() => turnToPanel(serial), [serial]);
  useWatched(bookPanel, EVERY_MS, serial);
  const book = bookPanel.value.value;
  const laid = layout.floor.panels.find((panel) => panel.serial === serial);
  if (serial === "") {
    return (
      <>
        <Sections />
        <Card title="Panel">
          <Empty icon="search" title="Which panel?">
            The address names no serial. <a href={hashOf("panels")}>Choose one from the list.</a>
          </Empty>
        </Card>
      </>
    );
  }
  // A page of one panel never shows another one's book.
  if (!book || book.serial !== serial) return <Unknown serial={serial} at={laid?.position} />;
  return (
    <>
      <Sections />
      <Stale watched={bookPanel} />
      <Now book={book} at={laid?.position ?? null} />
      <Faults book={book} />
      <Benches book={book} />
      <Positions book={book} />
      <Notes book={book} />
    </>
  );
}

function Unknown({ serial, at }: { serial: string; at: string | undefined }) {
  const failure = bookPanel.failure.value;
  const unknown = failure?.kind === "refused" && UNKNOWN.has(failure.code);
  return (
    <>
      <Sections />
      <Card title={`Panel ${serial}`}>
        {unknown ? (
          <>
            <Empty icon="search" title={`The book knows no panel ${serial}`}>
              {at ? `The floor file has it at ${at}, but nothing has been written of it yet.` : "Was the serial typed rightly? If the panel is new, test it on the bench or place it on the floor: then it stands in the book."}
            </Empty>
            <div class={css.row}>
              <NotForGuests>
                <a class={`${buttons.solid} ${css.link}`} href={hashOf("bench", serial)}>
                  Test it on the bench
                </a>
                <a class={`${buttons.solid} ${css.link}`} href={hashOf("rebuild", serial)}>
                  Place it on the floor
                </a>
              </NotForGuests>
              <a class={`${buttons.solid} ${css.link}`} href={hashOf("panels")}>
                All panels
              </a>
            </div>
          </>
        ) : (
          <Unseen watched={bookPanel} what={`What the book says of ${serial}.`} />
        )}
      </Card>
    </>
  );
}

const UNKNOWN = new Set(["not_found", "no_such_panel", "unknown_panel", "unknown_serial", "no_such_serial", "404"]);

function Now({ book, at }: { book: BookPanel; at: string | null }) {
  const { serial, position } = book;
  const open = book.faults.filter((fault) => fault.open).length;
  const where = position ?? at;
  return (
    <Card title={`Panel ${serial}`} aside={open > 0 ? `${open} open` : "No open fault"}>
      <div class={css.now}>
        <span class={css.position}>{where ?? "–"}</span>
        <div class={css.said}>
          <p class={css.lead}>{where === null ? "It is not placed on the floor now." : `It lies at ${where}.`}</p>
          {position !== null && at !== null && position !== at && <p>The floor file still has it at {at}: rewrite the file on the page Rebuild.</p>}
          {position !== null && at === null && <p>The floor file does not name its serial yet: rewrite the file on the page Rebuild.</p>}
        </div>
        <NotForGuests>
          <img class={css.code} src={labelPath(serial, location.origin)} alt={`Code that leads to the page of ${serial}`} width={96} height={96} />
        </NotForGuests>
      </div>
      <Barrier id="light-barrier" />
      <NotForGuests>
        <div class={css.row}>
          {where !== null && <LightThis spot={{ kind: "panel", position: where }} word="Light it" reasonId="light-barrier" />}
          <a class={`${buttons.solid} ${css.link}`} href={hashOf("bench", serial)}>
            <Icon name="test" /> Bench
          </a>
          <a class={`${buttons.solid} ${css.link}`} href={hashOf("rebuild", serial)}>
            <Icon name="walk" /> Place it
          </a>
          <a class={`${buttons.solid} ${css.link}`} href={hashOf("labels", serial)}>
            <Icon name="code" /> Print its label
          </a>
        </div>
      </NotForGuests>
    </Card>
  );
}

function Notes({ book }: { book: BookPanel }) {
  const action = useAction();
  const [text, setText] = useState("");
  const lacks = text.trim() === "" ? "Write the note first." : nobody();
  return (
    <Card title="Notes">
      {book.notes.length > 0 ? (
        <ul class={css.list}>
          {book.notes.map((note, at) => (
            <li key={at}>
              {moment(note.at)}, {note.who}: {note.text}
            </li>
          ))}
        </ul>
      ) : (
        <p class={css.small}>None yet.</p>
      )}
      <NotForGuests>
        <details class={form.more}>
          <summary>Add a note</summary>
          <form
            class={form.form}
            onSubmit={(event) => {
              event.preventDefault();
              if (!held(lacks)) void writeNote(action, book.serial, text.trim(), who.value.trim()).then((done) => done && setText(""));
            }}
          >
            <TextField label="Note" value={text} onText={setText} long />
            <WhoField />
            <Launch action={action} icon="plus" waiting="Writing…" lacks={lacks}>
              Write it down
            </Launch>
          </form>
        </details>
      </NotForGuests>
    </Card>
  );
}
