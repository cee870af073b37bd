/** Asks the daemon to change something, and says in words what became of it. */

/** Why something was not done, or may not have been. */
export interface Failure {
  /** `refused`: it was not done. `unheard`: whether it was done is not known. */
  kind: "refused" | "unheard";
  /** The daemon's stable word, if it answered. */
  code: string;
  text: string;
}

export type Reply<T> = { ok: true; value: T } | { ok: false; failure: Failure };

/** So long a button waits before it says that nobody answers. */
export const PATIENCE_MS = 10_000;

interface Request {
  method: "GET" | "POST" | "PUT" | "DELETE";
  path: string;
  body?: unknown;
  patienceMs?: number;
}

/** Never throws. The value of an answer without a body is null. */
export async function ask<T>({ method, path, body, patienceMs = PATIENCE_MS }: Request, fetcher: typeof fetch = fetch): Promise<Reply<T>> {
  const said: RequestInit = { method, headers: { accept: "application/json" }, signal: AbortSignal.timeout(patienceMs) };
  if (body !== undefined) {
    said.headers = { ...said.headers, "content-type": "application/json" };
    said.body = JSON.stringify(body);
  }
  try {
    const reply = await fetcher(path, said);
    const text = await reply.text();
    if (reply.ok) return { ok: true, value: (text === "" ? null : JSON.parse(text)) as T };
    return { ok: false, failure: refused(reply.status, text) };
  } catch (error) {
    return { ok: false, failure: unheard(error, patienceMs) };
  }
}

function refused(status: number, text: string): Failure {
  try {
    const { error, message } = JSON.parse(text) as { error: string; message: string };
    if (typeof error === "string" && typeof message === "string") return { kind: "refused", code: error, text: sentence(message) };
  } catch {
    // What stands between, such as a proxy, answers in its own way.
  }
  return { kind: "refused", code: String(status), text: `The answer was ${status}, and not one of litfloor: something else answered. Look at the address.` };
}

function unheard(error: unknown, patienceMs: number): Failure {
  const slow = error instanceof DOMException && error.name === "TimeoutError";
  const what = slow ? `No answer within ${Math.round(patienceMs / 1000)} s.` : "litfloor can't be reached.";
  const text = `${what} Whether it was done is not known: look at the floor, and try again when the connection is back.`;
  return { kind: "unheard", code: slow ? "slow" : "unreachable", text };
}

/** The daemon's words begin small and end without a stop. */
export function sentence(text: string): string {
  const begun = text.replace(/^(?!litfloor\b)\p{Ll}/u, (letter) => letter.toUpperCase());
  return /[.!?]$/.test(begun) ? begun : `${begun}.`;
}
