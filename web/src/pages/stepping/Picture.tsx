import type { Drawing, Floor } from "../../api/types";
import { pitchMm } from "../../lib/geometry";
import { byColour, dots, type Frame, frameOf, inFrame, litPositions, nameplate, plates } from "../../lib/sight";
import type { Layout } from "../../store";
import css from "./Picture.module.css";

interface Props {
  layout: Layout;
  drawing: Drawing;
}

/** What may be seen: the panels that light, with part of their neighbours and their positions. The words stand beside it. */
export function Picture({ layout, drawing }: Props) {
  const { floor } = layout;
  const frame = frameOf(drawing, floor);
  const shown = inFrame(floor.panels, frame);
  const lit = new Set(litPositions(drawing));
  // Dots of the panels that light, or what is around them would make them tiny.
  const pitch = Math.min(...pitches(layout, shown.filter((panel) => lit.has(panel.position))), frame.width / 8);
  return (
    <svg class={css.picture} viewBox={viewBox(frame)} aria-hidden="true">
      <Ground layout={layout} frame={frame} lit={lit} pitch={pitch} />
      {[...byColour(drawing.lights)].map(([colour, lights]) => (
        <path key={colour} class={`${css.dots} ${css[colour]}`} d={dots(lights.map((l) => [l.x_mm, l.y_mm] as const))} stroke-width={pitch * 0.82} data-colour={colour} />
      ))}
      {/* Above the light, which may fill the panel. */}
      <Names panels={shown.filter((panel) => lit.has(panel.position))} frame={frame} lit={lit} />
    </svg>
  );
}

const viewBox = ({ x, y, width, height }: Frame) => `${x} ${y} ${width} ${height}`;

function pitches({ xyMm }: Layout, panels: Floor["panels"]): number[] {
  return panels.map((panel) => Math.min(pitchMm(xyMm, [panel]), panel.width_mm / 3));
}

interface GroundProps {
  layout: Layout;
  frame: Frame;
  lit: ReadonlySet<string>;
  pitch: number;
}

/** Panels with their dark pixels and their positions. */
export function Ground({ layout: { floor, xyMm }, frame, lit, pitch }: GroundProps) {
  const shown = inFrame(floor.panels, frame);
  const gap = Math.min(...floor.grid.panel_mm) * 0.015;
  const pixels = shown.flatMap((panel) =>
    Array.from({ length: panel.pixels }, (_, i) => [xyMm[2 * (panel.first_pixel + i)]!, xyMm[2 * (panel.first_pixel + i) + 1]!] as const),
  );
  return (
    <>
      <path class={css.plates} d={plates(shown, gap)} />
      <path class={`${css.dots} ${css.dark}`} d={dots(pixels)} stroke-width={pitch * 0.3} />
      <Names panels={shown} frame={frame} lit={lit} />
    </>
  );
}

/** Positions, each amid what is seen of its panel. */
function Names({ panels, frame, lit }: { panels: Floor["panels"]; frame: Frame; lit: ReadonlySet<string> }) {
  return (
    <>
      {panels.map((panel) => {
        const at = nameplate(panel, frame);
        return (
          at && (
            <text key={panel.position} class={lit.has(panel.position) ? css.litName : css.name} x={at.x} y={at.y} font-size={at.size} stroke-width={at.size * 0.25}>
              {panel.position}
            </text>
          )
        );
      })}
    </>
  );
}

/** Whole plans by floor: hundreds of panels are drawn a dozen times on one page. */
const whole = new WeakMap<Floor, string>();

/** The whole floor in small, with the panels that light marked. */
export function Overview({ floor, lit }: { floor: Floor; lit: readonly string[] }) {
  let path = whole.get(floor);
  if (path === undefined) {
    path = plates(floor.panels, Math.min(...floor.grid.panel_mm) * 0.05);
    whole.set(floor, path);
  }
  const marked = floor.panels.filter((panel) => lit.includes(panel.position));
  return (
    <svg class={css.overview} viewBox={`0 0 ${floor.width_mm} ${floor.height_mm}`} aria-hidden="true">
      <path class={css.plates} d={path} />
      <path class={css.here} d={plates(marked, 0)} />
    </svg>
  );
}
