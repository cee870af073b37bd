import { meaning, wordsFor } from "../lib/words";
import { watchOnly } from "../store";
import css from "./Words.module.css";

/** The same explanations as the titles, for those whose finger can't hover. */
export function Words() {
  return (
    <details class={css.words}>
      <summary>What the words mean</summary>
      <dl class={css.list}>
        {wordsFor(watchOnly.value).map((word) => (
          <div key={word}>
            <dt>{word}</dt>
            <dd>{meaning(word, watchOnly.value)}</dd>
          </div>
        ))}
      </dl>
    </details>
  );
}
