/** What stands on the test page; it stays while other pages are looked at. */
import { signal } from "@preact/signals";
import type { Floor } from "../../api/types";
import { type Choice, firstChoice, fitted } from "../../lib/pattern";

const chosen = signal<Choice | null>(null);

export function choiceFor(floor: Floor): Choice {
  return chosen.value ? fitted(chosen.value, floor) : firstChoice(floor);
}

export function choose(floor: Floor, part: Partial<Choice>): void {
  chosen.value = { ...choiceFor(floor), ...part };
}
