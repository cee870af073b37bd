import { useLayoutEffect, useRef, useState } from "preact/hooks";
import { type Direction, neighbour } from "../../lib/geometry";
import { planScale } from "../../lib/walk";
import type { Layout } from "../../store";
import css from "./Tap.module.css";

interface Props {
  layout: Layout;
  /** Scrolled to at first. */
  near: string | null;
  chosen: string | null;
  blocked: boolean;
  onPick(position: string): void;
}

export const WAYS: Record<string, Direction> = { ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down" };

/** The whole floor with every panel large enough for a finger. Arrow keys go from panel to panel. */
export function PanelTap({ layout, near, chosen, blocked, onPick }: Props) {
  const { panels, width_mm, height_mm } = layout.floor;
  const box = useRef<HTMLDivElement>(null);
  const [room, setRoom] = useState(0);
  const [at, setAt] = useState(near ?? panels[0]?.position ?? "");
  const scale = planScale(panels, width_mm, room);

  useLayoutEffect(() => {
    const measure = () => setRoom(box.current?.clientWidth ?? 0);
    measure();
    window.addEventListener("resize", measure);
    return () => window.removeEventListener("resize", measure);
  }, []);
  useLayoutEffect(() => {
    const panel = panels.find((p) => p.position === near);
    if (!panel || !box.current || room === 0) return;
    box.current.scrollLeft = (panel.x_mm + panel.width_mm / 2) * scale - box.current.clientWidth / 2;
    box.current.scrollTop = (panel.y_mm + panel.height_mm / 2) * scale - box.current.clientHeight / 2;
  }, [room, near]);

  const move = (event: KeyboardEvent) => {
    const way = WAYS[event.key];
    if (!way) return;
    event.preventDefault();
    const next = neighbour(panels.map((p) => p.position), at, way);
    if (next === null) return;
    setAt(next);
    box.current?.querySelector<HTMLElement>(`[data-position="${next}"]`)?.focus();
  };
  return (
    <>
      {room > 0 && width_mm * scale > room + 1 && <p class={css.hint}>The plan is wider than the screen: push it about with your finger.</p>}
      <div ref={box} class={css.box} data-scrolls>
        <div
          class={css.sheet}
          role="group"
          aria-label="Plan of the floor"
          style={{ width: `${width_mm * scale}px`, height: `${height_mm * scale}px` }}
          onKeyDown={move}
        >
          {room > 0 &&
            panels.map((panel) => (
              <button
                key={panel.position}
                type="button"
                class={css.panel}
                style={{
                  left: `${panel.x_mm * scale}px`,
                  top: `${panel.y_mm * scale}px`,
                  width: `${panel.width_mm * scale}px`,
                  height: `${panel.height_mm * scale}px`,
                }}
                tabIndex={panel.position === at ? 0 : -1}
                aria-disabled={blocked}
                data-position={panel.position}
                data-chosen={panel.position === chosen}
                onFocus={() => setAt(panel.position)}
                onClick={() => !blocked && onPick(panel.position)}
              >
                {panel.position}
              </button>
            ))}
        </div>
      </div>
    </>
  );
}
