import { useCallback, useMemo } from "preact/hooks";
import type { Health } from "../../api/health";
import { Card } from "../../components/Card";
import { PanelPlan } from "../../components/PanelPlan";
import { PlanKey } from "../../components/PlanKey";
import { CONDITIONS, conditionWord, marksShown, panelMarks, tally } from "../../lib/faults";
import { guest, type Layout } from "../../store";
import { PanelSheet } from "./PanelSheet";

interface Props {
  layout: Layout;
  health: Health;
  chosen: string | null;
  onPick(position: string | null): void;
}

/** The floor with what is known of every segment; a panel that is tapped tells more. */
export function FaultPlan({ layout, health, chosen, onPick }: Props) {
  const marks = useMemo(() => panelMarks(health.faults), [health]);
  const conditions = useMemo(() => new Map(health.panels.map(({ position, segments }) => [position, segments])), [health]);
  const look = useCallback((position: string, segment: number) => conditions.get(position)?.[segment]?.condition ?? "unknown", [conditions]);
  const sums = tally(health.panels);
  const panel = health.panels.find(({ position }) => position === chosen);
  return (
    <Card title="The floor" aside={guest.value ? "Tap a panel to see more" : "Tap a panel to see more or to report it"}>
      <PanelPlan
        layout={layout}
        label="Plan of the floor with its faults"
        look={look}
        mark={(position) => marks.get(position) ?? null}
        chosen={new Set(chosen ? [chosen] : [])}
        onPick={(position) => onPick(position === chosen ? null : position)}
      />
      <PlanKey
        looks={CONDITIONS.filter((condition) => sums[condition] > 0).map((condition) => ({ look: condition, word: `segments ${conditionWord(condition)}`, count: sums[condition] }))}
        marks={marksShown(marks)}
      />
      {chosen !== null && <PanelSheet key={chosen} floor={layout.floor} position={chosen} panel={panel} health={health} onClose={() => onPick(null)} />}
    </Card>
  );
}
