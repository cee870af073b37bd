import { useSignal, useSignalEffect } from "@preact/signals";
import { useMemo } from "preact/hooks";
import type { State, UniverseState } from "../../api/types";
import buttons from "../../components/button.module.css";
import { NotForGuests } from "../../components/NotForGuests";
import { Card } from "../../components/Card";
import { Empty } from "../../components/Empty";
import { FloorFile } from "../../components/FloorFile";
import { plural } from "../../lib/format";
import { patchOf } from "../../lib/patch";
import { inTrouble } from "../../lib/trouble";
import type { Layout } from "../../store";
import { Finder } from "./Finder";
import { focus, NOWHERE, wanted } from "./focus";
import { Legend } from "./Legend";
import { MiniPlan } from "./MiniPlan";
import { Reading } from "./Reading";
import { Reference } from "./Reference";
import { UniverseCard } from "./UniverseCard";
import css from "./PatchPage.module.css";

/** Which slot lights which pixel, drawn from what arrives. */
export function PatchPage({ layout, state }: { layout: Layout; state: State }) {
  const patch = useMemo(() => {
    focus.value = NOWHERE;
    return patchOf(layout.floor);
  }, [layout]);
  const only = useSignal(false);
  const troubled = state.universes.filter(inTrouble).length;
  const shown = only.value ? state.universes.filter(inTrouble) : state.universes;
  const arriving = shown.filter((u) => u.mapped && u.age_s !== null);
  const never = shown.filter((u) => u.mapped && u.age_s === null);
  const unmapped = shown.filter((u) => !u.mapped);

  useSignalEffect(() => {
    if (!wanted.value) return;
    const { flat } = wanted.value;
    wanted.value = null;
    document.getElementById(`universe-${flat}`)?.scrollIntoView({ block: "start" });
  });

  const list = (universes: UniverseState[]) => universes.map((u) => <UniverseCard key={u.port_address} patch={patch} universe={u} />);
  return (
    <div class={css.page}>
      <div class={css.tools}>
        <Card title="Patch">
          <Finder patch={patch} />
          <div class={css.filter}>
            <button
              type="button"
              class={buttons.toggle}
              aria-pressed={only.value}
              onClick={() => {
                only.value = !only.value;
              }}
            >
              Only with trouble
            </button>
            <span class={css.quiet}>
              {troubled === 0 ? "no universe has any" : `${troubled} of ${plural(state.universes.length, "universe")}`}
            </span>
          </div>
          <NotForGuests>
            <Reference state={state} />
          </NotForGuests>
        </Card>
        <FloorFile floor={layout.floor} state={state} />
      </div>
      <aside class={css.aside} aria-label="Plan and reading">
        <MiniPlan layout={layout} patch={patch} />
        <Reading patch={patch} />
      </aside>
      <div class={css.ribbons}>
        {shown.length > 0 && <Legend />}
        {shown.length === 0 && (
          <Card title="Universes">
            <Empty icon="ok" title={only.value ? "No universe has trouble" : "No universe"}>
              {only.value ? "Everything that the file maps arrives as it should." : "The floor file maps none and none has been seen."}
            </Empty>
          </Card>
        )}
        {unmapped.length > 0 && (
          <Card title="Arrive, but are mapped to nothing" aside={plural(unmapped.length, "universe")}>
            {list(unmapped)}
          </Card>
        )}
        {never.length > 0 && (
          <Card title="Mapped, but have never arrived" aside={plural(never.length, "universe")}>
            {list(never)}
          </Card>
        )}
        {arriving.length > 0 && (
          <Card title="Mapped and seen" aside={plural(arriving.length, "universe")}>
            {list(arriving)}
          </Card>
        )}
      </div>
    </div>
  );
}
