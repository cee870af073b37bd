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
import { entryOf, type Page, page } from "./lib/route";
import { FloorPage } from "./pages/floor/FloorPage";
import { NodesPage } from "./pages/nodes/NodesPage";
import { PatchPage } from "./pages/patch/PatchPage";
import { PowerPage } from "./pages/power/PowerPage";
import { SignalPage } from "./pages/signal/SignalPage";
import { SteppingPage } from "./pages/stepping/SteppingPage";
import { TestPage } from "./pages/test/TestPage";
import { layout, state } from "./store";
import css from "./app.module.css";

const PAGE: Record<Page, { title: string; view: typeof FloorPage }> = {
  floor: { title: "Floor", view: FloorPage },
  power: { title: "Power", view: PowerPage },
  nodes: { title: "Nodes", view: NodesPage },
  signal: { title: "Signal", view: SignalPage },
  patch: { title: "Patch", view: PatchPage },
  test: { title: "Test", view: TestPage },
  stepping: { title: "Walk the floor", view: SteppingPage },
};

export function App() {
  const shown = layout.value;
  const now = state.value;
  const { title, view: View } = PAGE[page.value];
  const main = useRef<HTMLElement>(null);
  const first = useRef(true);

  useEffect(() => {
    document.title = shown ? `${title} – ${shown.floor.name} – litfloor` : `${title} – litfloor`;
  }, [title, shown]);

  // A change of page is told to screen readers by moving to its heading's region.
  useEffect(() => {
    if (!first.current) main.current?.focus({ preventScroll: true });
    first.current = false;
    window.scrollTo(0, 0);
  }, [title]);

  return (
    <div class={`${css.shell} ${page.value === "floor" ? css.fixed : ""}`}>
      <Header toPage={() => main.current?.focus()} />
      <Navigation />
      <div class={css.tools}>
        <OperatorButton />
        <ThemeToggle />
      </div>
      <StatusStrip />
      <ConnectionNotice />
      <PatternBanner />
      <main ref={main} class={`${css.main} ${page.value === "floor" ? css.full : ""}`} tabIndex={-1} aria-label={title}>
        {now && page.value !== "floor" && <Notices notices={now.notices} short={entryOf(page.value) === "test"} />}
        {shown && now ? <View layout={shown} state={now} /> : <Loading />}
      </main>
      {dialogOpen.value && <OperatorDialog />}
    </div>
  );
}
