import type { EnergyReply, HistoryReply, RangeReply } from "./types";

/** So long an answer may take: a year is read from a slow disk. */
const PATIENCE_MS = 30_000;

/** An answer, or an error that says in words why not. */
async function get<T>(path: string, stop?: AbortSignal): Promise<T> {
  const late = AbortSignal.timeout(PATIENCE_MS);
  const signal = stop ? AbortSignal.any([stop, late]) : late;
  let reply: Response;
  try {
    reply = await fetch(path, { headers: { accept: "application/json" }, signal });
  } catch {
    throw new Error(late.aborted ? `no answer within ${PATIENCE_MS / 1000} s` : "the daemon can't be reached");
  }
  if (reply.ok) return (await reply.json()) as T;
  const said = await reply.json().catch(() => null);
  throw new Error(typeof said?.message === "string" ? said.message : `the daemon answered ${reply.status}`);
}

/** The last ten minutes. */
export function fetchHistory(): Promise<HistoryReply> {
  return get("/api/v1/history");
}

/** A range of the recorded history of one element; a path of `lib/range`. */
export function fetchRange(path: string, stop: AbortSignal): Promise<RangeReply> {
  return get(path, stop);
}

/** Totals since the daemon was started. */
export function fetchEnergy(stop: AbortSignal): Promise<EnergyReply> {
  return get("/api/v1/energy", stop);
}
