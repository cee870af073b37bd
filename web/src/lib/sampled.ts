import type { ReadonlySignal } from "@preact/signals";
import { useEffect, useState } from "preact/hooks";

/** A signal's value as it was at the last of five looks a second: enough for numbers that people read. */
export function useSampled<T>(source: ReadonlySignal<T>): T {
  const [value, setValue] = useState(source.peek());
  useEffect(() => {
    const timer = window.setInterval(() => setValue(() => source.peek()), 200);
    return () => window.clearInterval(timer);
  }, [source]);
  return value;
}
