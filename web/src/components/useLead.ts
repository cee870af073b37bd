/** Leads whoever works by keyboard or hears the page to what is new on it. */
import type { RefObject } from "preact";
import { useEffect, useLayoutEffect } from "preact/hooks";

type Target = RefObject<HTMLElement | null>;
type Inputs = readonly unknown[];

/**
 * Moves the focus to what has just come, each time one of `inputs` changes.
 *
 * At once, not after the paint: on a slow machine the next key may be pressed by then, and the focus would be taken from where that key has led.
 */
export function useFocusOn(target: Target, inputs: Inputs, when: () => boolean = () => true): void {
  useLayoutEffect(() => {
    if (when()) target.current?.focus({ preventScroll: true });
  }, inputs);
}

/** As `useFocusOn`, and brings it into view, as soon as what lies around it has its size. */
export function useLead(target: Target, inputs: Inputs, block: ScrollLogicalPosition, when: () => boolean = () => true): void {
  useFocusOn(target, inputs, when);
  useEffect(() => {
    if (when()) target.current?.scrollIntoView({ block });
  }, inputs);
}
