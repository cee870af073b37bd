/** Whether a node answers, and how to say that it does not. */
import type { NodeState } from "../api/types";
import { seconds } from "./format";

/** So long after the start a node that has not answered is no cause for alarm. */
const FIRST_ANSWER_S = 10;

type Answer = "answers" | "early" | "never" | "silent";

export function answerOf(node: Pick<NodeState, "online" | "last_reply_s">, uptime_s: number): Answer {
  if (node.online) return "answers";
  if (node.last_reply_s !== null) return "silent";
  return uptime_s < FIRST_ANSWER_S ? "early" : "never";
}

/** Names of the nodes of which nobody knows what they show. */
export function silentNodes(nodes: readonly NodeState[], uptime_s: number): ReadonlySet<string> {
  return new Set(nodes.filter((n) => ["never", "silent"].includes(answerOf(n, uptime_s))).map((n) => n.name));
}

/** `has not answered for 14 s`, or since the start. */
export function silenceWords(node: Pick<NodeState, "last_reply_s">): string {
  return node.last_reply_s === null ? "has not answered since the start" : `has not answered for ${seconds(node.last_reply_s)}`;
}
