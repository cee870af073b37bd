import type { ComponentChildren } from "preact";
import { useEffect } from "preact/hooks";
import { tick, unheard, walk } from "../../api/walk";
import type { State } from "../../api/types";
import { Card } from "../../components/Card";
import { Empty } from "../../components/Empty";
import { Icon } from "../../components/Icon";
import { connection, type Layout } from "../../store";
import { Begin } from "./Begin";
import { Result } from "./Result";
import { Told } from "./Status";
import { Walking } from "./Walking";
import css from "./SteppingPage.module.css";

const LOOK_MS = 2000;

/** One person, one phone, one panel at a time: what is asked, and at the end what was found. */
export function SteppingPage({ layout }: { layout: Layout; state: State }) {
  const watch = layout.floor.watch_only;
  const open = connection.value.kind === "open";
  useEffect(() => {
    if (watch) return;
    const visible = () => document.visibilityState === "visible";
    const now = () => {
      if (visible()) void tick();
    };
    now();
    const timer = setInterval(now, LOOK_MS);
    document.addEventListener("visibilitychange", now);
    return () => {
      clearInterval(timer);
      document.removeEventListener("visibilitychange", now);
    };
    // When the connection is back, at once.
  }, [watch, open]);

  if (watch) {
    return (
      <Frame>
        <Card title="Walk the floor">
          <Empty icon="walk" title="Watch only">
            The floor file names no nodes, so litfloor sends nothing and can light nothing. Add nodes to the file to walk the floor.
          </Empty>
        </Card>
      </Frame>
    );
  }
  const now = walk.value;
  if (now === undefined) {
    return (
      <Frame>
        {unheard.value ? (
          <Empty icon="broken" title="No answer yet">
            litfloor does not say whether a walk is under way. This page keeps asking.
          </Empty>
        ) : (
          <Empty icon="wait" title="Asking litfloor" busy>
            Whether a walk is under way.
          </Empty>
        )}
      </Frame>
    );
  }
  return (
    <Frame>
      <Told />
      {now === null ? <Begin /> : now.question ? <Walking layout={layout} walk={now} question={now.question} /> : <Result layout={layout} walk={now} />}
    </Frame>
  );
}

function Frame({ children }: { children: ComponentChildren }) {
  return (
    <>
      <a class={css.back} href="#/test">
        <Icon name="back" size={18} />
        Test patterns
      </a>
      {children}
    </>
  );
}
