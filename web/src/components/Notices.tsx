import type { Notice, Severity } from "../api/types";
import { plural } from "../lib/format";
import { narrow } from "../lib/narrow";
import { Icon, type IconName } from "./Icon";
import css from "./Notices.module.css";

export const SEVERITY: Record<Severity, { icon: IconName; word: string }> = {
  danger: { icon: "danger", word: "danger" },
  warning: { icon: "warning", word: "warning" },
  info: { icon: "info", word: "for information" },
};

/** So many are shown before the rest is folded, if nothing is in danger. */
const SHOWN = 3;

/**
 * What someone should know now, worst first as the daemon sorts it. Dangers are always shown; of many
 * warnings the first ones, or `all` where nothing comes after them. What needs nobody is folded into one line that is always there, so that the
 * page below does not jump as it comes and goes; `short` leaves it out where the room is needed for the
 * work.
 */
export function Notices({ notices, short = false, all = false }: { notices: Notice[]; short?: boolean; all?: boolean }) {
  const urgent = notices.filter((n) => n.severity !== "info");
  const quiet = notices.filter((n) => n.severity === "info");
  if (short && urgent.length === 0) return null;
  const dangers = urgent.filter((n) => n.severity === "danger").length;
  const most = Math.max(dangers, short || narrow.value ? 1 : SHOWN);
  const shown = all || urgent.length - most < 2 ? urgent : urgent.slice(0, most);
  const folded = urgent.slice(shown.length);
  return (
    <section aria-label="Notices" class={css.region}>
      {shown.length > 0 && <List notices={shown} />}
      {folded.length > 0 && <Fold word="Warning" severity="warning" first={folded[0]} others={folded.slice(1)} />}
      {short ? null : quiet.length === 0 ? (
        <p class={css.line} data-severity="none">
          <Icon name="ok" size={18} />
          {urgent.length === 0 ? "Nothing to report" : "Nothing else to report"}
        </p>
      ) : quiet.length === 1 ? (
        <List notices={quiet} />
      ) : (
        <Fold word="For information" severity="info" first={quiet[0]} others={quiet.slice(1)} />
      )}
    </section>
  );
}

interface FoldProps {
  word: string;
  severity: Severity;
  first: Notice | undefined;
  others: Notice[];
}

/** Several in one line, which opens. */
function Fold({ word, severity, first, others }: FoldProps) {
  return (
    <details class={css.more}>
      <summary class={css.line} data-severity={severity}>
        <Icon name={SEVERITY[severity].icon} size={18} />
        <span class={css.first}>
          <strong class={css.word}>{word}</strong> {first?.text}
        </span>
        <span class={css.rest}>
          and {plural(others.length, "other")}
          <Icon name="chevron" />
        </span>
      </summary>
      <List notices={others} />
    </details>
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
