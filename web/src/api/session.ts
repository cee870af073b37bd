/** Joins the live reader with the store, and tells the daemon what this page can show. */
import { batch, computed, effect, signal } from "@preact/signals";
import { page } from "../lib/route";
import { Pace } from "../lib/rate";
import * as store from "../store";
import { learnRights } from "./operator";
import { browserSurroundings, LiveReader, type Wanted } from "./live";

/** While a panel is inspected its other view comes too, but more rarely. */
const COMPARE_FPS = 5;
/** The small plan only tells lit panels from dark ones. */
const PLAN_FPS = 4;
const pace = new Pace();
const fps = signal(pace.fps);
const visible = () => document.visibilityState === "visible";
const seen = signal(visible());

export function startSession(): void {
  const live = new LiveReader(
    browserSurroundings(),
    {
      // Sessions end with the daemon, which may have started again.
      open: () => void learnRights(),
      message: (message) =>
        batch(() => {
          store.apply(message, Date.now());
          if (message.kind === "levels" && message.view === store.view.value && page.value === "floor" && visible() && pace.note(message.uptimeMs, Date.now())) fps.value = pace.fps;
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
    () => store.liveId.value ?? "",
  );
  effect(() => live.want(wanted()));
  document.addEventListener("visibilitychange", () => {
    seen.value = visible();
    if (visible()) live.retryNow();
  });
  window.addEventListener("online", () => live.retryNow());
  window.setInterval(() => {
    store.nowMs.value = Date.now();
  }, 1000);

  effect(() => {
    if (!comparing()) store.forget(store.view.value === "sent" ? "asked" : "sent");
  });
  live.start();
}

/** Whether someone looks at a panel, so that both views are needed; where nothing is capped they are the same. */
function comparing(): boolean {
  return !store.watchOnly.value && seen.value && page.value === "floor" && store.selected.value !== null;
}

/** Whether the state does not name all lit panels, so that the small plan needs the picture. */
const unnamed = computed(() => {
  const on = store.pattern.value;
  return page.value === "test" && on !== null && on.lit_panels > on.lit.length;
});

function wanted(): Wanted {
  if (seen.value && unnamed.value) return { view: "sent", max_fps: PLAN_FPS };
  const show = seen.value && page.value === "floor";
  const ribbons = seen.value && page.value === "patch";
  const main: Wanted = {
    view: show ? store.view.value : "none",
    max_fps: fps.value,
    slots: ribbons ? store.lookedAt.value : [],
    reference: store.reference.value,
    voltages: seen.value && (page.value === "power" || page.value === "floor"),
  };
  return comparing() ? { ...main, also_fps: COMPARE_FPS } : main;
}
