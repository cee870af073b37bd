import type { ComponentChildren } from "preact";
import { useId, useMemo, useState } from "preact/hooks";
import { bookPanels, labelPath } from "../../api/book";
import type { State } from "../../api/types";
import { Card } from "../../components/Card";
import { Empty } from "../../components/Empty";
import { Icon } from "../../components/Icon";
import { Sections } from "../../components/Sections";
import { TextField } from "../../components/TextField";
import { useWatched } from "../../components/useWatched";
import { labelAddress, onlyHere, serialsIn } from "../../lib/book";
import { plural } from "../../lib/format";
import { argument } from "../../lib/route";
import type { Layout } from "../../store";
import { Pick } from "../test/Pick";
import action from "../../components/ActionButton.module.css";
import buttons from "../../components/button.module.css";
import form from "../../components/fields.module.css";
import css from "./LabelsPage.module.css";

const EVERY_MS = 30_000;
/** Sheets of more are too much for one go of a printer, and for the browser. */
const MOST = 300;
const SIZES = [
  { mm: 25, word: "Small, 25 mm" },
  { mm: 35, word: "Usual, 35 mm" },
  { mm: 50, word: "Large, 50 mm" },
];

/** Labels with a code that opens a panel's page on any phone. */
export function LabelsPage({ layout }: { layout: Layout; state: State }) {
  // States come often, and change nothing here.
  return useMemo(() => <Page layout={layout} />, [layout]);
}

function Page({ layout }: { layout: Layout }) {
  useWatched(bookPanels, EVERY_MS);
  const size = useId();
  const [text, setText] = useState<string | null>(argument.value === "" ? null : argument.value);
  const [address, setAddress] = useState(location.origin);
  const [mm, setMm] = useState(35);
  const known = [...new Set([...layout.floor.panels.map(({ serial }) => serial).filter(Boolean), ...(bookPanels.value.value ?? []).map(({ serial }) => serial)])].sort((a, b) =>
    a.localeCompare(b, "en", { numeric: true }),
  );
  const wanted = text === null ? known : serialsIn(text);
  const labels = wanted.slice(0, MOST);
  const at = labelAddress(address);
  return (
    <>
      <div class={css.screen}>
        <Sections />
        <Card title="Labels" aside={plural(labels.length, "label")}>
          <div class={form.form}>
            <fieldset class={form.group}>
              <legend>Which panels</legend>
              <div class={form.two}>
                <Pick name="which" chosen={text === null} onPick={() => setText(null)}>
                  All {known.length}
                </Pick>
                <Pick name="which" chosen={text !== null} onPick={() => setText(text ?? "")}>
                  Chosen ones
                </Pick>
              </div>
              {text !== null && <TextField label="Serials" value={text} onText={setText} exact hint="With commas or blanks between them. New serials may be named, too." />}
            </fieldset>
            <TextField label="Address that the code leads to" value={address} onText={setAddress} exact hint="Where phones reach this dashboard in the venue's network, such as http://192.168.1.20:8080." />
            {at === null && <Warn>This is no address: it begins with http:// or https://.</Warn>}
            {at !== null && onlyHere(at) && (
              <Warn>A phone can't open this: {at} means the very device that reads it. Give the address of this machine in the venue's network.</Warn>
            )}
            <div class={form.field}>
              <label for={size}>Size of the code</label>
              <select id={size} value={mm} onChange={(event) => setMm(Number(event.currentTarget.value))}>
                {SIZES.map((one) => (
                  <option key={one.mm} value={one.mm}>
                    {one.word}
                  </option>
                ))}
              </select>
            </div>
            {wanted.length > MOST && <Warn>Only the first {MOST} are shown: choose the others by their serials afterwards.</Warn>}
            <div class={form.row}>
              <button type="button" class={`${buttons.solid} ${action.main}`} disabled={at === null || labels.length === 0} onClick={() => window.print()}>
                <Icon name="print" /> Print {plural(labels.length, "label")}
              </button>
            </div>
            <p class={form.small}>Print without scaling (100 %), and try one with a phone before you stick them all.</p>
          </div>
        </Card>
      </div>
      {labels.length === 0 ? (
        <Card title="Sheet">
          <Empty icon="code" title="No label to print">
            {text === null ? "No panel has a serial yet: give them one in the floor file, or name serials above." : "Name at least one serial."}
          </Empty>
        </Card>
      ) : (
        at !== null && (
          <ul class={css.sheet} aria-label="Sheet of labels" data-mm={mm}>
            {labels.map((serial) => (
              <li key={serial} class={css.label} style={{ width: `${mm + 8}mm` }}>
                <img src={labelPath(serial, at)} alt={`Code that leads to the page of ${serial}`} style={{ width: `${mm}mm`, height: `${mm}mm` }} />
                <b>{serial}</b>
                <small>{layout.floor.name}</small>
              </li>
            ))}
          </ul>
        )
      )}
    </>
  );
}

function Warn({ children }: { children: ComponentChildren }) {
  return (
    <p class={css.warn} role="status">
      <Icon name="warning" size={18} />
      <span>{children}</span>
    </p>
  );
}
