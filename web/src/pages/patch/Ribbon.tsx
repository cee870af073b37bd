import { effect, useSignalEffect } from "@preact/signals";
import { useEffect, useMemo, useRef, useState } from "preact/hooks";
import { type Patch, portAddress, slotsOf, type Stretch } from "../../lib/patch";
import { cellOf, ribbonHeight, ribbonShape, slotAt } from "../../lib/ribbon";
import { lookedAt, slots } from "../../store";
import { drawRibbon, type RibbonMarks } from "./drawRibbon";
import { focus, pointAtSlot } from "./focus";
import css from "./Ribbon.module.css";

interface Props {
  patch: Patch;
  flat: number;
  /** The highest slot worth a cell. */
  most: number;
}

const NONE: readonly Stretch[] = [];
/** The daemon sends so many universes at most. */
const MOST_IN_SIGHT = 64;
const inSight = new Set<string>();

function see(name: string, seen: boolean): void {
  if (seen === inSight.has(name)) return;
  if (seen) inSight.add(name);
  else inSight.delete(name);
  lookedAt.value = [...inSight].slice(0, MOST_IN_SIGHT);
}

/** The slots of one universe, drawn only while it is in sight. */
export function Ribbon({ patch, flat, most }: Props) {
  const canvas = useRef<HTMLCanvasElement>(null);
  const [width, setWidth] = useState(0);
  const stretches = patch.byUniverse.get(flat) ?? NONE;
  const shape = useMemo(() => ribbonShape(width, most), [width, most]);
  const name = portAddress(flat);
  const later = useRef(0);
  const [near, setNear] = useState(false);

  useEffect(() => {
    const element = canvas.current;
    if (!element) return;
    const resized = new ResizeObserver(() => setWidth(element.clientWidth));
    resized.observe(element);
    const look = (entries: IntersectionObserverEntry[]) => {
      const isNear = entries.at(-1)?.isIntersecting ?? false;
      setNear(isNear);
      see(name, isNear);
    };
    const seen = new IntersectionObserver(look, { rootMargin: "100px" });
    seen.observe(element);
    return () => {
      resized.disconnect();
      seen.disconnect();
      see(name, false);
    };
  }, [name]);

  useEffect(() => {
    const element = canvas.current;
    if (!element || width === 0) return;
    if (!near) {
      // Hundreds of canvases would take hundreds of megabytes.
      element.width = element.height = 0;
      return;
    }
    const ratio = Math.min(window.devicePixelRatio || 1, 3);
    element.width = Math.round(width * ratio);
    element.height = Math.round(ribbonHeight(shape) * ratio);
    let drawn: unknown[] = [];
    const draw = () => {
      const now = slots.value.get(flat);
      const marks = marksOf(patch, flat);
      const next = [now, marks.key];
      if (next.every((part, i) => part === drawn[i])) return;
      drawn = next;
      cancelAnimationFrame(later.current);
      later.current = requestAnimationFrame(() => drawRibbon(element, shape, stretches, now, marks));
    };
    const stop = effect(draw);
    const repaint = new MutationObserver(() => {
      drawn = [];
      draw();
    });
    repaint.observe(document.documentElement, { attributes: true, attributeFilter: ["data-theme"] });
    return () => {
      stop();
      repaint.disconnect();
      cancelAnimationFrame(later.current);
    };
  }, [patch, flat, shape, width, near]);

  useSignalEffect(() => {
    const at = focus.value.at;
    canvas.current?.setAttribute("data-slot", at?.flat === flat ? String(at.slot) : "");
  });

  const point = (event: { clientX: number; clientY: number }) => {
    const box = canvas.current?.getBoundingClientRect();
    const slot = box && slotAt(shape, event.clientX - box.x, event.clientY - box.y);
    if (slot) pointAtSlot(patch, flat, slot);
  };
  const key = (event: KeyboardEvent) => {
    const step = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: -shape.columns, ArrowDown: shape.columns }[event.key];
    if (step === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    const at = focus.peek().at;
    const next = at?.flat === flat ? at.slot + step : 1;
    if (next >= 1 && next <= Math.min(512, shape.rows * shape.columns)) pointAtSlot(patch, flat, next);
  };
  return (
    <canvas
      ref={canvas}
      class={css.ribbon}
      style={{ height: `${ribbonHeight(shape)}px` }}
      data-ribbon={name}
      data-cell={`${shape.columns} ${shape.cell} ${cellOf(shape, 1).x} ${cellOf(shape, 1).y} ${shape.step}`}
      role="application"
      tabIndex={0}
      aria-label={`Slots of universe ${name}; arrow keys move from slot to slot`}
      aria-describedby="slot-reading"
      onPointerMove={(event) => event.pointerType === "mouse" && point(event)}
      onClick={point}
      onKeyDown={key}
    />
  );
}

/** What is marked on one ribbon, and a key that changes with it. */
function marksOf(patch: Patch, flat: number): RibbonMarks & { key: string } {
  const { panel, pixel, at } = focus.value;
  const here = <T extends { flat: number }>(list: readonly T[]) => list.filter((range) => range.flat === flat);
  const ofPixel = panel && pixel !== null ? here(slotsOf(patch, panel, pixel)) : [];
  const ofPanel = panel ? here(patch.byPanel.get(panel.position) ?? []) : [];
  const slot = at?.flat === flat ? at.slot : null;
  const key = `${ofPanel.length > 0 ? panel?.position : ""} ${ofPixel.map((r) => r.first_slot).join()} ${slot}`;
  return { pixel: ofPixel, panel: ofPanel, slot, key };
}
