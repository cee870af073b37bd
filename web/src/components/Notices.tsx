import type { Notice, Severity } from "../api/types";
import { plural } from "../lib/format";
import { Icon, type IconName } from "./Icon";
import css from "./Notices.module.css";

export const SEVERITY: Record<Severity, { icon: IconName; word: string }> = {
  danger: { icon: "danger", word: "danger" },
  warning: { icon: "warning", word: "warning" },
  info: { icon: "info", word: "for information" },
};

/**
 * What someone should know now, worst first as the daemon sorts it. What needs nobody is folded into
 * one line that is always there, so that the page below does not jump as it comes and goes; `short`
 * leaves it out where the room is needed for the work.
 */
export function Notices({ notices, short = false }: { notices: Notice[]; short?: boolean }) {
  const urgent = notices.filter((n) => n.severity !== "info");
  const quiet = notices.filter((n) => n.severity === "info");
  if (short && urgent.length === 0) return null;
  return (
    <section aria-label="Notices" class={css.region}>
      {urgent.length > 0 && <List notices={urgent} />}
      {short ? null : quiet.length === 0 ? (
        <p class={css.line} data-severity="none">
          <Icon name="ok" size={18} />
          {urgent.length === 0 ? "Nothing to report" : "Nothing else to report"}
        </p>
      ) : quiet.length === 1 ? (
        <List notices={quiet} />
      ) : (
        <details class={css.more}>
          <summary class={css.line} data-severity="info">
            <Icon name="info" size={18} />
            <span class={css.first}>
              <strong class={css.word}>For information</strong> {quiet[0]?.text}
            </span>
            <span class={css.rest}>
              and {plural(quiet.length - 1, "other")}
              <Icon name="chevron" />
            </span>
          </summary>
          <List notices={quiet.slice(1)} />
        </details>
      )}
    </section>
  );
}

function List({ notices }: { notices: Notice[] }) {
  return (
    <ul class={css.list}>
      {notices.map((notice) => (
        <li key={`${notice.code} ${notice.text}`} class={css.line} data-severity={notice.severity}>
          <Icon name={SEVERITY[notice.severity].icon} size={18} />
          <p>
            <strong class={css.word}>{SEVERITY[notice.severity].word}</strong> <span>{notice.text}</span>
          </p>
        </li>
      ))}
    </ul>
  );
}
