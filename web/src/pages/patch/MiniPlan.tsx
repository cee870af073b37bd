import { boxWithAxes, PlanAxes } from "../../components/PlanAxes";
import { hitTest } from "../../lib/geometry";
import type { Patch } from "../../lib/patch";
import type { Layout } from "../../store";
import { focus, pointAtPixel } from "./focus";
import { memo } from "./memo";
import css from "./MiniPlan.module.css";

/** More names than that can't be read on so small a plan. */
const MOST_NAMES = 150;

interface Props {
  layout: Layout;
  patch: Patch;
}

/** The floor in small: what is pointed at is marked, and a tap points at a pixel. */
export function MiniPlan({ layout, patch }: Props) {
  const { floor, xyMm } = layout;
  const { panel, pixel } = focus.value;
  const size = Math.min(floor.grid.panel_mm[0], floor.grid.panel_mm[1]);
  const tap = (event: MouseEvent) => {
    const plan = event.currentTarget as SVGSVGElement;
    const matrix = plan.getScreenCTM();
    if (!matrix) return;
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
    const found = floor.panels[hitTest(floor.panels, at.x, at.y)];
    if (!found) return;
    let best = found.first_pixel;
    let least = Infinity;
    for (let i = found.first_pixel; i < found.first_pixel + found.pixels; i++) {
      const far = Math.hypot(xyMm[2 * i]! - at.x, xyMm[2 * i + 1]! - at.y);
      if (far < least) [least, best] = [far, i];
    }
    pointAtPixel(patch, found, best);
  };
  return (
    <svg
      class={css.plan}
      viewBox={
        named(layout)
          ? `${-size * 0.05} ${-size * 0.05} ${floor.width_mm + size * 0.1} ${floor.height_mm + size * 0.1}`
          : boxWithAxes(floor)
      }
      role="img"
      aria-label={panel ? `Plan of the floor, panel ${panel.position} marked` : "Plan of the floor"}
      data-plan
      onClick={tap}
    >
      <Panels layout={layout} />
      {panel && (
        <rect class={css.chosen} x={panel.x_mm} y={panel.y_mm} width={panel.width_mm} height={panel.height_mm} data-chosen={panel.position} />
      )}
      {pixel !== null && (
        <circle class={css.pixel} cx={xyMm[2 * pixel]} cy={xyMm[2 * pixel + 1]} r={Math.max(size * 0.13, Math.max(floor.width_mm, floor.height_mm) / 110)} data-pixel={pixel} />
      )}
    </svg>
  );
}

const named = ({ floor }: Layout) => floor.panels.length <= MOST_NAMES;

const Panels = memo(function Panels({ layout }: { layout: Layout }) {
  const { panels } = layout.floor;
  return (
    <g>
      {panels.map((p) => (
        <rect key={p.position} class={css.panel} x={p.x_mm} y={p.y_mm} width={p.width_mm} height={p.height_mm} />
      ))}
      {!named(layout) && <PlanAxes floor={layout.floor} />}
      {named(layout) &&
        panels.map((p) => (
          <text
            key={p.position}
            class={css.name}
            x={p.x_mm + p.width_mm / 2}
            y={p.y_mm + p.height_mm / 2}
            font-size={p.height_mm * 0.34}
          >
            {p.position}
          </text>
        ))}
    </g>
  );
});
