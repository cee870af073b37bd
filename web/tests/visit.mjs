/** What the tests of the pages share: a browser, a visit to a mock, a look at the plan, states that are rare. */
import assert from "node:assert/strict";
import { after, before } from "node:test";
import * as check from "./browser.mjs";
import { startMock } from "./mock-server.mjs";

/** Screen value of an unlit pixel, so that its place can be seen. */
export const UNLIT = 24;

export let browser;
before(async () => {
  browser = await check.launch();
});
after(() => browser?.close());

/** Runs with a mock and a page, and looks at the end whether anything went wrong on it. */
export async function visit({ mock: options = {}, ...view }, run) {
  // Few pictures a second do: that a page can draw more of them is no business of these tests.
  const mock = await startMock({ most_fps: 8, ...options });
  const visitor = await check.open(browser, mock.url, view);
  try {
    await run(visitor.page, mock, visitor.wrong);
    assert.deepEqual(visitor.wrong, []);
  } finally {
    await visitor.close();
    await mock.stop();
  }
}

export const goto = async (page, name) => {
  await page.evaluate((hash) => {
    location.hash = hash;
  }, `#/${name}`);
  await check.ready(page, name);
};

/** What every page must keep, on the floor page with a panel chosen, on the power page with all of it unfolded. */
export async function everyPage(page, label) {
  for (const name of check.PAGES) {
    await goto(page, name);
    if (name === "floor") await page.selectOption("#panel-picker", { index: 3 });
    if (name === "power") await page.getByRole("button", { name: "Open all" }).click();
    await check.fine(page, `${name} ${label}`);
  }
}

/** Middle of a slot's cell of the patch page in the window. */
export async function cell(page, name, slot) {
  const ribbon = page.locator(`[data-ribbon="${name}"]`);
  await ribbon.scrollIntoViewIfNeeded();
  return ribbon.evaluate((canvas, slot) => {
    const [columns, wide, left, top, step] = canvas.dataset.cell.split(" ").map(Number);
    const box = canvas.getBoundingClientRect();
    return {
      x: box.x + left + (((slot - 1) % columns) + 0.5) * wide,
      y: box.y + top + Math.floor((slot - 1) / columns) * step + 8,
    };
  }, slot);
}

/** A page by its hash, such as `panel/M017`, once its heading is there. */
export const come = async (page, hash, title) => {
  await page.evaluate((to) => {
    location.hash = to;
  }, `#/${hash}`);
  await page.locator(`main[aria-label="${title}"] h2`).first().waitFor();
};

/** A browser says on its console that a request was refused or lost; that was meant. */
export const meant = (wrong) => wrong.splice(0, wrong.length, ...wrong.filter((text) => !text.includes("Failed to load resource") && !text.includes("WebSocket connection")));

/** Waits until what is asked for is so; the test's own time ends it otherwise. */
export async function until(page, wanted) {
  while (!(await wanted())) await page.evaluate(() => new Promise((resolve) => requestAnimationFrame(resolve)));
}

/** Waits until the plan shows these levels, then compares every pixel. */
export async function planShows(page, model, levels) {
  const linear = await check.encodeByBrowser(page);
  // Of pixels with white the screen shows the mean of each colour and white.
  const white = (p) => levels[model.channels * p + 3];
  const light = (p, level) => level + (model.channels > 3 ? white(p) : level);
  const shown = (p, c) => UNLIT + ((255 - UNLIT) * linear[light(p, levels[model.channels * p + c])]) / 255;
  const pixels = Array.from({ length: model.xy.length / 2 }, (_, i) => i);
  const differ = async () => {
    const seen = await check.readPixels(page, model.xy, pixels);
    return pixels.filter((p) => [0, 1, 2].some((c) => Math.abs(seen[p][c] - shown(p, c)) > 2) || seen[p][3] !== 255);
  };
  let wrong = await differ();
  // The next picture is at most a few animation frames away.
  for (let frames = 0; wrong.length > 0 && frames < 120; frames++) {
    await page.evaluate(() => new Promise((resolve) => requestAnimationFrame(resolve)));
    wrong = await differ();
  }
  assert.deepEqual(wrong.slice(0, 5), [], `${wrong.length} of ${pixels.length} pixels differ`);
}

/** No universe has arrived. */
export const waiting = (state) => ({
  ...state,
  signal: "waiting",
  frames_in: 0,
  frames_refused: {},
  universes: state.universes.map((u) => ({ ...u, fps: 0, age_s: null, slots: 0, sources: [], merging: false })),
  notices: [],
});

/** Something of every kind is wrong. */
export const faulty = (state) => ({
  ...state,
  signal: "partial",
  frames_refused: { ...state.frames_refused, third_source: 90, a_new_reason: 1 },
  universes: [
    ...state.universes.map((u, i) =>
      i === 2
        ? { ...u, lost: true, fps: 0, age_s: 14, sources: [] }
        : i === 1
          ? { ...u, sources: [...u.sources, { address: "10.20.0.9", physical: 0, age_s: 0.1, ignored: true }] }
          : u,
    ),
    { port_address: "3:2:1", fps: 30, age_s: 0.03, sources: [{ address: "10.20.0.9", physical: 0, age_s: 0.03, ignored: false }], slots: 512, mapped: false, merging: false, synced: true, lost: false, arrival: { ...state.universes[0].arrival, needs_slots: 0 } },
  ],
  nodes: state.nodes.map((n, i) =>
    i === 0
      ? { ...n, not_listed: ["0:0:4", "0:0:5"], ports: n.ports.map((p, k) => ({ ...p, short_circuit: k === 1 })) }
      : { ...n, online: false, last_reply_s: null, send_errors: 17, last_send_error_s: 3, short_name: "", long_name: "", firmware: "", report: "", ports: [] },
  ),
  feeds: state.feeds.map((f, i) => (i === 0 ? { ...f, impossible: true, scale: 0, draw_a: f.limit_a * 1.1 } : f)),
  notices: [
    { code: "idle_over_limit", severity: "danger", text: "Feed L1: even dark its panels draw more than its limit." },
    { code: "node_never_answered", severity: "warning", text: "Node right wing does not answer." },
    { code: "third_source", severity: "warning", text: "A third source of 0:0:1 is ignored." },
  ],
});
