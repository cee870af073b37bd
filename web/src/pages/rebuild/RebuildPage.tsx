import { useMemo } from "preact/hooks";
import { checklist } from "../../api/book";
import type { State } from "../../api/types";
import { Card } from "../../components/Card";
import { Sections } from "../../components/Sections";
import { Stale, Unseen } from "../../components/Unseen";
import { useWatched } from "../../components/useWatched";
import type { Layout } from "../../store";
import { FloorFile } from "./FloorFile";
import { Lacking } from "./Lacking";
import { PlaceCard } from "./PlaceCard";

const EVERY_MS = 5000;

/** After the strike: which panel lies where now, what is still missing, and the floor file that says so. */
export function RebuildPage({ layout }: { layout: Layout; state: State }) {
  // States come often, and change nothing here.
  return useMemo(() => <Page layout={layout} />, [layout]);
}

function Page({ layout }: { layout: Layout }) {
  useWatched(checklist, EVERY_MS);
  const list = checklist.value.value;
  return (
    <>
      <Sections />
      <Stale watched={checklist} />
      {!list ? (
        <Card title="Rebuild">
          <Unseen watched={checklist} what="Which panel lies where." />
        </Card>
      ) : (
        <>
          <PlaceCard layout={layout} list={list} />
          <Lacking layout={layout} list={list} />
          <FloorFile placed={list.placed} />
        </>
      )}
    </>
  );
}
