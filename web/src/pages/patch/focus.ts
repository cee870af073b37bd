/** What is pointed at on the patch page: a slot, a pixel or a panel. */
import { signal } from "@preact/signals";
import { litBy, type Patch, slotsOf } from "../../lib/patch";
import type { PanelInfo } from "../../api/types";

export interface Focus {
  panel: PanelInfo | null;
  pixel: number | null;
  at: { flat: number; slot: number } | null;
}

export const NOWHERE: Focus = { panel: null, pixel: null, at: null };
export const focus = signal<Focus>(NOWHERE);
/** A universe that should be brought into sight. */
export const wanted = signal<{ flat: number } | null>(null);

export function pointAtSlot(patch: Patch, flat: number, slot: number): void {
  const before = focus.peek().at;
  if (before?.flat === flat && before.slot === slot) return;
  const lit = litBy(patch, flat, slot)[0];
  focus.value = { panel: lit?.panel ?? null, pixel: lit?.pixel ?? null, at: { flat, slot } };
}

export function pointAtPixel(patch: Patch, panel: PanelInfo, pixel: number): void {
  const first = slotsOf(patch, panel, pixel)[0];
  focus.value = { panel, pixel, at: first ? { flat: first.flat, slot: first.first_slot } : null };
  if (first) wanted.value = { flat: first.flat };
}

export function pointAtPanel(patch: Patch, panel: PanelInfo): void {
  const first = patch.byPanel.get(panel.position)?.[0];
  focus.value = { panel, pixel: null, at: null };
  if (first) wanted.value = { flat: first.flat };
}
