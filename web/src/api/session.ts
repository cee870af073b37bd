/** Joins the live reader with the store, and tells the daemon what this page can show. */
import { batch, effect, signal } from "@preact/signals";
import { page } from "../lib/route";
import { Pace } from "../lib/rate";
import * as store from "../store";
import { browserSurroundings, LiveReader } from "./live";

/** While a panel is inspected its other view comes on a second, slow connection. */
const COMPARE_FPS = 5;
const pace = new Pace();
const fps = signal(pace.fps);
const visible = () => document.visibilityState === "visible";

export function startSession(): void {
  const around = browserSurroundings();
  const live = new LiveReader(
    around,
    {
      open: () => {},
      message: (message) =>
        batch(() => {
          store.apply(message, Date.now());
          if (message.kind === "levels" && visible() && pace.note(message.uptimeMs, Date.now())) fps.value = pace.fps;
          if (store.connection.value.kind !== "open") store.connection.value = { kind: "open" };
          store.brokenMessage.value = null;
        }),
      lost: (retryInMs) => {
        const before = store.connection.value;
        const attempts = before.kind === "lost" ? before.attempts + 1 : 1;
        store.connection.value = { kind: "lost", attempts, retryAtMs: Date.now() + retryInMs };
      },
      broken: (error) => {
        store.brokenMessage.value = error.message;
      },
    },
    wanted(),
  );
  const compare = new LiveReader(
    around,
    {
      open: () => {},
      message: (message) => {
        if (message.kind === "levels" && message.view !== store.view.value) store.takeLevels(message);
      },
      lost: () => {},
      broken: () => {},
    },
    { view: "asked", max_fps: COMPARE_FPS },
  );

  const seen = signal(visible());
  const tell = () => live.want(wanted());
  effect(tell);
  document.addEventListener("visibilitychange", () => {
    tell();
    seen.value = visible();
    if (visible()) live.retryNow();
  });
  window.addEventListener("online", () => live.retryNow());
  window.setInterval(() => {
    store.nowMs.value = Date.now();
  }, 1000);

  let comparing = false;
  effect(() => {
    const wish = seen.value && page.value === "floor" && store.selected.value !== null && store.connection.value.kind === "open";
    compare.want({ view: store.view.value === "sent" ? "asked" : "sent", max_fps: COMPARE_FPS });
    if (wish !== comparing) {
      comparing = wish;
      if (wish) compare.start();
      else {
        compare.stop();
        store.forget(store.view.peek() === "sent" ? "asked" : "sent");
      }
    }
  });
  live.start();
}

function wanted() {
  const show = page.value === "floor" && visible();
  return { view: show ? store.view.value : ("none" as const), max_fps: fps.value };
}
