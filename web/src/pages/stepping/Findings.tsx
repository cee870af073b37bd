import type { Difference, Report } from "../../api/types";
import { Icon } from "../../components/Icon";
import { foundWord } from "../../lib/walk";
import css from "./Findings.module.css";

/** What is otherwise than planned, one by one, with the answers that led to it. */
export function Findings({ report }: { report: Report }) {
  return (
    <>
      <ol class={css.list}>
        {report.differences.map((difference, at) => (
          <Found key={`${at} ${difference.text}`} difference={difference} />
        ))}
      </ol>
      {report.otherwise.length > 0 && (
        <section class={css.note} aria-label="What may be otherwise">
          <Icon name="info" size={18} />
          <div>
            <strong>It may be otherwise.</strong> {report.differences.length > 0 ? "This fits your answers as well; light can't tell it from the above:" : "This fits your answers as well:"}
            <ul class={css.plain}>
              {report.otherwise.map((text) => (
                <li key={text}>{text}</li>
              ))}
            </ul>
          </div>
        </section>
      )}
      {report.cautions.length > 0 && (
        <section class={`${css.note} ${css.warning}`} aria-label="Cautions">
          <Icon name="warning" size={18} />
          <div>
            <strong>Look at this before you trust the limits:</strong>
            <ul class={css.plain}>
              {report.cautions.map((text) => (
                <li key={text}>{text}</li>
              ))}
            </ul>
          </div>
        </section>
      )}
    </>
  );
}

function Found({ difference }: { difference: Difference }) {
  const { what, text, positions, evidence } = difference;
  return (
    <li class={css.found} data-what={what}>
      <p class={css.head}>
        <strong class={css.word}>{foundWord(what)}</strong>
        {positions.length > 0 && <span class={css.positions}>{positions.join(", ")}</span>}
      </p>
      <p>{text}</p>
      {evidence.length > 0 && (
        <details class={css.why}>
          <summary>What was answered</summary>
          <ul class={css.plain}>
            {evidence.map((said) => (
              <li key={said}>{said}</li>
            ))}
          </ul>
        </details>
      )}
    </li>
  );
}
