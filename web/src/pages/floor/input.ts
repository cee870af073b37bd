/** Pointer, wheel and keys on the plan, told as what they mean. Places are CSS pixels in the stage. */
import type { Direction } from "../../lib/geometry";

export interface StageInput {
  pan(dx: number, dy: number): void;
  zoom(factor: number, x: number, y: number): void;
  fit(): void;
  tap(x: number, y: number): void;
  step(way: Direction): void;
  clear(): void;
}

const TAP_PX = 8;
const PAN_PX = 60;
const ARROWS: Record<string, Direction> = {
  ArrowLeft: "left",
  ArrowRight: "right",
  ArrowUp: "up",
  ArrowDown: "down",
};

interface Finger {
  x: number;
  y: number;
}

/** Listens until the returned function is called. */
export function listen(stage: HTMLElement, input: StageInput): () => void {
  const fingers = new Map<number, Finger>();
  let travelled = 0;
  let several = false;
  const abort = new AbortController();
  const { signal } = abort;
  const place = (event: { clientX: number; clientY: number }): Finger => {
    const box = stage.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  };

  stage.addEventListener(
    "pointerdown",
    (event) => {
      if (event.button !== 0) return;
      if (fingers.size === 0) {
        travelled = 0;
        several = false;
      } else {
        several = true;
      }
      fingers.set(event.pointerId, place(event));
      stage.setPointerCapture(event.pointerId);
    },
    { signal },
  );

  stage.addEventListener(
    "pointermove",
    (event) => {
      const before = fingers.get(event.pointerId);
      if (!before) return;
      const now = place(event);
      const other = [...fingers].find(([id]) => id !== event.pointerId)?.[1];
      fingers.set(event.pointerId, now);
      travelled += Math.hypot(now.x - before.x, now.y - before.y);
      if (other) {
        const was = Math.hypot(before.x - other.x, before.y - other.y);
        const is = Math.hypot(now.x - other.x, now.y - other.y);
        if (was > 0 && is > 0) input.zoom(is / was, (now.x + other.x) / 2, (now.y + other.y) / 2);
        input.pan((now.x - before.x) / 2, (now.y - before.y) / 2);
      } else if (travelled > TAP_PX) {
        input.pan(now.x - before.x, now.y - before.y);
      }
    },
    { signal },
  );

  stage.addEventListener(
    "pointerup",
    (event) => {
      if (!fingers.delete(event.pointerId)) return;
      const { x, y } = place(event);
      if (fingers.size === 0 && !several && travelled <= TAP_PX) input.tap(x, y);
    },
    { signal },
  );
  stage.addEventListener("pointercancel", (event) => fingers.delete(event.pointerId), { signal });

  stage.addEventListener(
    "wheel",
    (event) => {
      event.preventDefault();
      const { x, y } = place(event);
      const lines = event.deltaMode === 1 ? 30 : 1;
      input.zoom(Math.exp((-event.deltaY * lines) / 500), x, y);
    },
    { signal, passive: false },
  );

  stage.addEventListener("keydown", (event) => key(event, stage, input), { signal });
  return () => abort.abort();
}

function key(event: KeyboardEvent, stage: HTMLElement, input: StageInput): void {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const way = ARROWS[event.key];
  const x = stage.clientWidth / 2;
  const y = stage.clientHeight / 2;
  if (way && event.shiftKey) {
    const by = way === "left" || way === "up" ? PAN_PX : -PAN_PX;
    if (way === "left" || way === "right") input.pan(by, 0);
    else input.pan(0, by);
  } else if (way) input.step(way);
  else if (event.key === "+" || event.key === "=") input.zoom(1.25, x, y);
  else if (event.key === "-") input.zoom(1 / 1.25, x, y);
  else if (event.key === "0") input.fit();
  else if (event.key === "Escape") input.clear();
  else return;
  event.preventDefault();
}
