import { ageS, brokenMessage, connection, layout, nowMs, watchOnly } from "../store";
import { Icon } from "./Icon";
import css from "./ConnectionNotice.module.css";

/** Says loudly that what is on the screen is no longer what is on the floor. */
export function ConnectionNotice() {
  const link = connection.value;
  const broken = brokenMessage.value;
  if (link.kind === "lost") {
    const wait = Math.max(0, Math.ceil((link.retryAtMs - nowMs.value) / 1000));
    return (
      <section class={css.bar} aria-label="Connection">
        <Icon name="broken" size={20} />
        <p>
          <strong role="alert">
            {ageS.value === null ? "No answer from litfloor" : "No answer from litfloor – the picture is old"}
          </strong>
          {ageS.value !== null && ` (${ageS.value} s)`}.{" "}
          <span class={css.more}>
            It may have ended, or the network between is down. {meanwhile()}{" "}
            {wait > 0 ? `Trying again in ${wait} s.` : "Trying again now."}
          </span>
        </p>
      </section>
    );
  }
  if (!broken) return null;
  return (
    <section class={css.bar} aria-label="Connection">
      <Icon name="warning" size={20} />
      <p>
        <strong role="alert">A message can't be read</strong> ({broken}). The page and the daemon may be of different versions:
        reload the page.
      </p>
    </section>
  );
}

/** What the light may be doing while nobody here can see it. */
function meanwhile(): string {
  if (layout.value?.floor.simulated) return "If the demo has ended, its floor has too.";
  if (watchOnly.value) return "The floor itself goes its own way.";
  return "The floor itself may go on: nodes keep the last picture they got.";
}
