import { Card } from "../../components/Card";
import table from "../../components/table.module.css";
import { count } from "../../lib/format";
import { explainReason, outcomeWord } from "../../lib/reasons";
import { Fact } from "../floor/Fact";
import css from "./signal.module.css";

interface Props {
  refused: Record<string, number>;
  datagrams: Record<string, number>;
  taken: string;
}

/** What was not taken, and what each reason means to someone with a console. */
export function Refused({ refused, datagrams, taken }: Props) {
  const reasons = Object.entries(refused)
    .filter(([, times]) => times > 0)
    .sort(([, a], [, b]) => b - a);
  const outcomes = Object.entries(datagrams).sort(([, a], [, b]) => b - a);
  return (
    <Card title="Not taken" aside={`${taken} frames taken since the start`}>
      {reasons.length === 0 ? (
        <p class={table.small}>{taken === "0" ? "No frame has arrived yet." : "Every frame that arrived was taken."}</p>
      ) : (
        <ul class={css.reasons}>
          {reasons.map(([word, times]) => {
            const { title, text } = explainReason(word);
            return (
              <li key={word} class={css.reason}>
                <span class={css.times}>{count(times)}</span>
                <div>
                  <h3 title={word}>{title}</h3>
                  <p class={table.small}>{text}</p>
                </div>
              </li>
            );
          })}
        </ul>
      )}
      {outcomes.length > 0 && (
        <details class={css.all}>
          <summary>What became of every datagram</summary>
          <dl class={css.outcomes}>
            {outcomes.map(([word, times]) => (
              <Fact key={word} name={outcomeWord(word)} title={word}>
                {count(times)}
              </Fact>
            ))}
          </dl>
        </details>
      )}
    </Card>
  );
}
