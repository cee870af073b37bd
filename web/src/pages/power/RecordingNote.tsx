import type { RecordingState } from "../../api/types";
import { count } from "../../lib/format";
import css from "./HistoryCard.module.css";

/** What someone should know of the recording before relying on it. */
export function RecordingNote({ recording }: { recording: RecordingState }) {
  const { in_file, trouble, lost_rows } = recording;
  if (trouble !== null) {
    const meanwhile = in_file ? "It is tried again" : "It ends with the daemon";
    const lost = lost_rows > 0 ? ` ${count(lost_rows)} rows are lost so far.` : "";
    return (
      <p class={css.failed} role="note">
        The history can't be kept: {trouble}. {meanwhile}.{lost}
      </p>
    );
  }
  return in_file ? null : <p class={css.count}>This history is kept in memory only, and ends with the daemon.</p>;
}
