import { useSignalEffect } from "@preact/signals";
import { useEffect, useMemo, useRef } from "preact/hooks";
import { Action } from "../lib/action";
import type { Watched } from "../api/watched";
import { connection, state } from "../store";

/** However often things change, nothing is looked at more often than this. */
const LEAST_MS = 1000;

/**
 * Looks while the page is in sight: at once, every `everyMs`, when the daemon says that something changed,
 * and when the connection is back. Null is looked at never.
 */
export function useWatched<T>(watched: Watched<T> | null, everyMs: number, about: unknown = null): void {
  const looked = useRef(0);
  const waits = useRef<ReturnType<typeof setTimeout> | undefined>(undefined);
  const now = () => {
    clearTimeout(waits.current);
    waits.current = undefined;
    if (!watched || document.visibilityState !== "visible") return;
    looked.current = Date.now();
    void watched.look();
  };
  const soon = () => {
    if (waits.current === undefined) waits.current = setTimeout(now, Math.max(0, looked.current + LEAST_MS - Date.now()));
  };
  const version = useRef<number | undefined>(undefined);
  useSignalEffect(() => {
    const next = state.value?.health_version;
    if (version.current !== undefined && next !== version.current) soon();
    version.current = next;
  });
  const open = connection.value.kind === "open";
  useEffect(() => {
    now();
    const timer = setInterval(now, everyMs);
    document.addEventListener("visibilitychange", now);
    return () => {
      clearInterval(timer);
      clearTimeout(waits.current);
      waits.current = undefined;
      document.removeEventListener("visibilitychange", now);
    };
  }, [watched, everyMs, about, open]);
}

/** An action of this very component, so that what went wrong is told beside its button. */
export const useAction = (): Action => useMemo(() => new Action(), []);
