import { dialogOpen } from "../api/operator";
import { stop, stopping } from "../api/pattern";
import { plural } from "../lib/format";
import { countdown, kindWord } from "../lib/pattern";
import { entryOf, page } from "../lib/route";
import { connection, pattern, rights } from "../store";
import { ActionButton } from "./ActionButton";
import { FailureNote } from "./FailureNote";
import { Icon } from "./Icon";
import css from "./PatternBanner.module.css";
import buttons from "./button.module.css";

/** Says on every page that the floor does not show the console's picture, and lets it be ended. */
export function PatternBanner() {
  const on = pattern.value;
  const known = on ? kindWord(on.kind) : null;
  return (
    <div class={css.place}>
      {/* Steps and seconds stay out of what is read aloud, or it would never end. */}
      <p role="status" class={css.told}>
        {known && `A test pattern is on: ${known}`}
      </p>
      {on && (
        <section class={css.bar} aria-label="Test pattern">
          <Icon name="test" size={20} />
          <p class={css.text}>
            {/* The page itself says what is on, in more words. */}
            <strong>{entryOf(page.value) === "test" ? "A test pattern is on" : `Test pattern: ${on.what}`}</strong>
            <span class={css.more}>
              {entryOf(page.value) !== "test" && `${on.covers_all ? "On the whole floor" : `On ${plural(on.covered_panels, "panel")}`}, not the console's picture. `}
              <span class={css.left}>{countdown(on.ends_in_s)} left</span>
              {connection.value.kind === "lost" && " when last heard"}
            </span>
          </p>
          <Stop />
          <FailureNote action={stopping} />
        </section>
      )}
    </div>
  );
}

function Stop() {
  const may = rights.value;
  if (may?.may_control) {
    return (
      <ActionButton action={stopping} look="stop" icon="close" waiting="Stopping…" onRun={() => void stop()}>
        Stop
      </ActionButton>
    );
  }
  if (!may?.passphrase_set || may.guest) return null;
  return (
    <button type="button" class={buttons.solid} onClick={() => (dialogOpen.value = true)}>
      Sign in to stop it
    </button>
  );
}
