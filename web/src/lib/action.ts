/** Something that one button does: it is done once at a time, and what went wrong is kept to be shown. */
import { signal } from "@preact/signals";
import type { Failure, Reply } from "../api/request";

export class Action {
  readonly busy = signal(false);
  readonly failure = signal<Failure | null>(null);

  /** Asks, unless an answer is still waited for. Gives the answer if it is a good one. */
  async run<T>(ask: () => Promise<Reply<T>>): Promise<{ value: T } | null> {
    if (this.busy.value) return null;
    this.busy.value = true;
    this.failure.value = null;
    try {
      const reply = await ask();
      if (reply.ok) return { value: reply.value };
      this.failure.value = reply.failure;
      return null;
    } finally {
      this.busy.value = false;
    }
  }
}
