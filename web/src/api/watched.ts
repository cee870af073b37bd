/** Something of the daemon's that a page looks at again and again, with why it can't be seen. */
import { signal } from "@preact/signals";
import { ask, type Failure } from "./request";

export class Watched<T> {
  /** Undefined until it is known. */
  readonly value = signal<T | undefined>(undefined);
  /** Why the last look brought nothing; what was seen before stays. */
  readonly failure = signal<Failure | null>(null);
  private looks = 0;
  private path: string;

  constructor(path: string) {
    this.path = path;
  }

  /** Looks at something else from now on, of which nothing is known yet. */
  turnTo(path: string): void {
    if (path === this.path) return;
    this.path = path;
    this.looks += 1;
    this.value.value = undefined;
    this.failure.value = null;
  }

  async look(): Promise<void> {
    const mine = ++this.looks;
    const reply = await ask<T>({ method: "GET", path: this.path });
    // A later look, or an answer to a change, knows better.
    if (mine !== this.looks) return;
    if (reply.ok) this.put(reply.value);
    else this.failure.value = reply.failure;
  }

  /** Takes what the answer to a change said. */
  put(value: T): void {
    this.looks += 1;
    this.failure.value = null;
    this.value.value = value;
  }
}
