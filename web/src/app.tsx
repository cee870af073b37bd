import { useEffect, useRef } from "preact/hooks";
import { dialogOpen } from "./api/operator";
import { ConnectionNotice } from "./components/ConnectionNotice";
import { Header } from "./components/Header";
import { Loading } from "./components/Loading";
import { Navigation } from "./components/Navigation";
import { Notices } from "./components/Notices";
import { OperatorButton } from "./components/OperatorButton";
import { OperatorDialog } from "./components/OperatorDialog";
import { PatternBanner } from "./components/PatternBanner";
import { StatusStrip } from "./components/StatusStrip";
import { ThemeToggle } from "./components/ThemeToggle";
import { useFocusOn } from "./components/useLead";
import { argument, entryOf, isThere, type Page, page } from "./lib/route";
import { BenchPage } from "./pages/bench/BenchPage";
import { FaultsPage } from "./pages/faults/FaultsPage";
import { FloorPage } from "./pages/floor/FloorPage";
import { LabelsPage } from "./pages/labels/LabelsPage";
import { NodesPage } from "./pages/nodes/NodesPage";
import { PanelPage } from "./pages/panel/PanelPage";
import { PanelsPage } from "./pages/panel/PanelsPage";
import { PatchPage } from "./pages/patch/PatchPage";
import { PowerPage } from "./pages/power/PowerPage";
import { RebuildPage } from "./pages/rebuild/RebuildPage";
import { SignalPage } from "./pages/signal/SignalPage";
import { SteppingPage } from "./pages/stepping/SteppingPage";
import { SurveyPage } from "./pages/survey/SurveyPage";
import { TestPage } from "./pages/test/TestPage";
import { guest, hasBook, layout, state } from "./store";
import css from "./app.module.css";

const PAGE: Record<Page, { title: string; view: typeof FloorPage }> = {
  floor: { title: "Floor", view: FloorPage },
  faults: { title: "Faults", view: FaultsPage },
  power: { title: "Power", view: PowerPage },
  nodes: { title: "Nodes", view: NodesPage },
  signal: { title: "Signal", view: SignalPage },
  patch: { title: "Patch", view: PatchPage },
  test: { title: "Test", view: TestPage },
  stepping: { title: "Walk the floor", view: SteppingPage },
  survey: { title: "Survey", view: SurveyPage },
  panels: { title: "Panels", view: PanelsPage },
  panel: { title: "Panel", view: PanelPage },
  bench: { title: "Bench", view: BenchPage },
  rebuild: { title: "Rebuild", view: RebuildPage },
  labels: { title: "Labels", view: LabelsPage },
};

/** Where what is asked for stands on the page, so that notices must not push it down. */
const SHORT: ReadonlySet<string> = new Set(["test", "faults"]);

export function App() {
  const shown = layout.value;
  const now = state.value;
  const there = { book: shown === null || hasBook.value, guest: guest.value };
  const at = [page.value, entryOf(page.value)].find((name) => isThere(name, there)) ?? "floor";
  const { title, view: View } = PAGE[at];
  const main = useRef<HTMLElement>(null);
  const first = useRef(true);

  useEffect(() => {
    document.title = shown ? `${title} – ${shown.floor.name} – litfloor` : `${title} – litfloor`;
  }, [title, shown]);

  // A change of page is told to screen readers by moving to its heading's region.
  useFocusOn(main, [title], () => !first.current);
  useEffect(() => {
    first.current = false;
    window.scrollTo(0, 0);
  }, [title]);

  return (
    <div class={`${css.shell} ${at === "floor" ? css.fixed : ""}`}>
      <Header toPage={() => main.current?.focus()} />
      <Navigation />
      <div class={css.tools}>
        <OperatorButton />
        <ThemeToggle />
      </div>
      <StatusStrip />
      <ConnectionNotice />
      <PatternBanner />
      <main ref={main} class={`${css.main} ${at === "floor" ? css.full : ""}`} tabIndex={-1} aria-label={title}>
        {now && at !== "floor" && <Notices notices={now.notices} short={SHORT.has(entryOf(at))} />}
        {shown && now ? <View key={at === "panel" ? "panel" : `${at}/${argument.value}`} layout={shown} state={now} /> : <Loading />}
      </main>
      {dialogOpen.value && <OperatorDialog />}
    </div>
  );
}
