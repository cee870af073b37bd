import type { Notice, Severity } from "../api/types";
import { Icon, type IconName } from "./Icon";
import css from "./Notices.module.css";

export const SEVERITY: Record<Severity, { icon: IconName; word: string }> = {
  danger: { icon: "danger", word: "danger" },
  warning: { icon: "warning", word: "warning" },
  info: { icon: "info", word: "for information" },
};

/** What someone should know now, worst first as the daemon sorts it. One line is always kept, so that a page does not jump. */
export function Notices({ notices }: { notices: Notice[] }) {
  return (
    <section aria-label="Notices" class={css.region}>
      {notices.length === 0 && (
        <p class={css.none}>
          <Icon name="ok" size={18} />
          Nothing to report
        </p>
      )}
      <ul class={css.list}>
        {notices.map((notice) => (
          <li key={`${notice.code} ${notice.text}`} class={css.item} data-severity={notice.severity}>
            <Icon name={SEVERITY[notice.severity].icon} size={18} />
            <p>
              <strong class={css.word}>{SEVERITY[notice.severity].word}</strong> <span>{notice.text}</span>
            </p>
          </li>
        ))}
      </ul>
    </section>
  );
}
