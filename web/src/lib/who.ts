/** Who works with this device, so that it is asked only once. */
import { signal } from "@preact/signals";

const KEY = "litfloor-who";

/** A browser may keep nothing: then it is asked anew each time. */
function read(): string {
  try {
    return localStorage.getItem(KEY) ?? "";
  } catch {
    return "";
  }
}

export const who = signal(typeof localStorage === "undefined" ? "" : read());

export function remember(name: string): void {
  who.value = name;
  try {
    localStorage.setItem(KEY, name.trim());
  } catch {
    // It is still known until the page goes.
  }
}
