import { useCallback, useMemo } from "preact/hooks";
import type { SurveyState } from "../../api/survey";
import { PanelPlan, type SegmentLook } from "../../components/PanelPlan";
import { PlanKey } from "../../components/PlanKey";
import { CONDITIONS, conditionWord } from "../../lib/faults";
import type { Layout } from "../../store";

const GRAVE: readonly SegmentLook[] = ["dead", "stuck", "weak"];
const MARK = {
  dead: { letter: "D", word: "dark segments", tone: "danger" },
  stuck: { letter: "A", word: "always lit", tone: "warning" },
  weak: { letter: "W", word: "weak segments", tone: "warning" },
  good: { letter: "✓", word: "all segments good", tone: "good" },
} as const;

/** The floor as the survey sees it so far. */
export function SurveyMap({ layout, now }: { layout: Layout; now: SurveyState }) {
  const { map } = now;
  const panels = useMemo(() => new Map(map.map(({ position, segments }) => [position, segments])), [map]);
  const look = useCallback((position: string, segment: number): SegmentLook => panels.get(position)?.[segment]?.condition ?? "unknown", [panels]);
  const mark = (position: string) => {
    const own = (panels.get(position) ?? []).map((segment) => segment.condition);
    const worst = GRAVE.find((how) => own.includes(how as (typeof own)[number]));
    if (worst) return MARK[worst as keyof typeof MARK];
    return own.length > 0 && own.every((condition) => condition === "good") ? MARK.good : null;
  };
  const count = (wanted: string) => map.reduce((sum, { segments }) => sum + segments.filter(({ condition }) => condition === wanted).length, 0);
  return (
    <>
      <PanelPlan layout={layout} label="Plan of the floor with what the survey found" look={look} mark={mark} chosen={NONE} />
      <PlanKey looks={CONDITIONS.map((condition) => ({ look: condition, word: conditionWord(condition), count: count(condition) })).filter(({ count }) => count > 0)} />
    </>
  );
}

const NONE: ReadonlySet<string> = new Set();
