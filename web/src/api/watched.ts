/** Something of the daemon's that a page looks at again and again, with why it can't be seen. */
import { signal } from "@preact/signals";
import { ask, type Failure } from "./request";

export class Watched<T> {
  /** Undefined until it is known. */
  readonly value = signal<T | undefined>(undefined);
  /** Why the last look brought nothing; what was seen before stays. */
  readonly failure = signal<Failure | null>(null);
  private path: string;
  /** Counts what is newer than a look that is under way. */
  private news = 0;
  private under: Promise<void> | null = null;
  private again = false;

  constructor(path: string) {
    this.path = path;
  }

  /** Looks at something else from now on, of which nothing is known yet. */
  turnTo(path: string): void {
    if (path === this.path) return;
    this.path = path;
    this.news += 1;
    this.value.value = undefined;
    this.failure.value = null;
    if (this.under) this.again = true;
  }

  /** On a slow network looks wait for each other: if each were overtaken by the next, none would ever count. */
  look(): Promise<void> {
    if (this.under) this.again = true;
    else
      this.under = this.looking().finally(() => {
        this.under = null;
      });
    return this.under;
  }

  /** Takes what the answer to a change said. */
  put(value: T): void {
    this.news += 1;
    this.failure.value = null;
    this.value.value = value;
  }

  private async looking(): Promise<void> {
    do {
      this.again = false;
      const before = this.news;
      const reply = await ask<T>({ method: "GET", path: this.path });
      if (before !== this.news) continue;
      if (reply.ok) this.put(reply.value);
      else this.failure.value = reply.failure;
    } while (this.again);
  }
}
