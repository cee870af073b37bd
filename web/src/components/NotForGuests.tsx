import type { ComponentChildren } from "preact";
import { guest } from "../store";

/** What changes something, takes something away, or leads to what does: at the address for guests it is not there. */
export function NotForGuests({ children }: { children: ComponentChildren }) {
  return guest.value ? null : <>{children}</>;
}
