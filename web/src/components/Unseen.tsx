import type { Watched } from "../api/watched";
import { Empty } from "./Empty";

/** What stands where something is not known yet, or can't be known. */
export function Unseen({ watched, what }: { watched: Watched<unknown>; what: string }) {
  const failure = watched.failure.value;
  if (!failure) {
    return (
      <Empty icon="wait" title="Asking litfloor" busy>
        {what}
      </Empty>
    );
  }
  if (failure.kind === "refused") {
    return (
      <Empty icon="warning" title="This can't be shown">
        {failure.text}
      </Empty>
    );
  }
  return (
    <Empty icon="broken" title="No answer yet">
      {what} This page keeps asking.
    </Empty>
  );
}

/** Says that what is shown is old, because the last look brought nothing. */
export function Stale({ watched }: { watched: Watched<unknown> }) {
  if (watched.failure.value === null || watched.value.value === undefined) return null;
  return <p role="status">litfloor does not answer now: what stands here is what was heard last.</p>;
}
