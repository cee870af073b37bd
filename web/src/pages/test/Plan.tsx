import type { Floor } from "../../api/types";
import { boxWithAxes, PlanAxes } from "../../components/PlanAxes";
import css from "./Plan.module.css";

interface Props {
  floor: Floor;
  marked: ReadonlySet<string>;
  /** What a mark means. */
  mark: "lit" | "chosen";
  label: string;
  /** A finger's or a mouse's way; what it does must be possible beside the plan, too. */
  onTap?(position: string): void;
}

/** Positions are written where they can be read. */
const MOST_NAMED_COLUMNS = 14;

/** A small plan of the floor. Marked panels are told by their frame and their bold name, too. */
export function Plan({ floor, marked, mark, label, onTap }: Props) {
  const named = floor.grid.columns <= MOST_NAMED_COLUMNS;
  const gap = Math.min(...floor.grid.panel_mm) * 0.05;
  const tap = (event: Event) => {
    const position = (event.target as Element).closest("[data-position]")?.getAttribute("data-position");
    if (position) onTap?.(position);
  };
  return (
    <svg
      class={`${css.plan} ${onTap ? css.tappable : ""}`}
      viewBox={named ? `0 0 ${floor.width_mm} ${floor.height_mm}` : boxWithAxes(floor)}
      role="img"
      aria-label={label}
      data-plan={mark}
      onClick={tap}
    >
      {!named && <PlanAxes floor={floor} />}
      {floor.panels.map((panel) => {
        const on = marked.has(panel.position);
        const size = Math.min(panel.width_mm, panel.height_mm);
        const { x_mm: x, y_mm: y, width_mm: width, height_mm: height } = panel;
        return (
          <g key={panel.position} class={on ? css[mark] : css.other} data-position={panel.position} data-marked={on}>
            <rect x={x + gap} y={y + gap} width={Math.max(0, width - 2 * gap)} height={Math.max(0, height - 2 * gap)} rx={size * 0.06} />
            {named && (
              <text x={x + width / 2} y={y + height / 2} font-size={size * 0.34} text-anchor="middle" dominant-baseline="central">
                {panel.position}
              </text>
            )}
          </g>
        );
      })}
    </svg>
  );
}
