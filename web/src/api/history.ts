import type { HistoryReply } from "./types";

/** The last ten minutes, or an error that says why not. */
export async function fetchHistory(): Promise<HistoryReply> {
  const reply = await fetch("/api/v1/history", { headers: { accept: "application/json" } });
  if (!reply.ok) throw new Error(`the daemon answered ${reply.status}`);
  return (await reply.json()) as HistoryReply;
}
