import { useState } from "preact/hooks";
import { renewToken, renewing } from "../../api/calibration";
import { ActionButton } from "../../components/ActionButton";
import { barred } from "../../components/Barrier";
import { FailureNote } from "../../components/FailureNote";
import css from "./SensorsCard.module.css";

/** The token with which sensors report over HTTP; it is shown once. */
export function ReadingsToken() {
  const [token, setToken] = useState<string | null>(null);
  if (barred() !== null) return null;
  return (
    <details class={css.part}>
      <summary>Token for readings over HTTP</summary>
      <p class={css.lead}>
        Sensors report to <code>/api/v1/readings</code> with a token that lets them do nothing else. A new token makes the one before void.
      </p>
      <ActionButton action={renewing} waiting="Making…" icon="key" onRun={() => void renewToken().then(setToken)}>
        Make a new token
      </ActionButton>
      <FailureNote action={renewing} />
      {token !== null && (
        <p class={css.lead} role="status">
          Write it down now, it is not shown again: <code class={css.token}>{token}</code>
        </p>
      )}
    </details>
  );
}
