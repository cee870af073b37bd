import type { PanelState } from "../api/types";

/** Which switches of a panel are pressed, in words. */
export function pressedWords(now: Pick<PanelState, "pressed" | "switches_known">): string {
  const some = now.pressed.join(", ");
  if (now.switches_known) return some ? `switch ${some}` : "none";
  return some ? `switch ${some}; others not known` : "not known";
}
