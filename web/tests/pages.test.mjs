/** Every page as people meet it: sizes, themes, keyboard, faults. LITFLOOR_URL checks a running daemon's pages too. */
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import * as check from "./browser.mjs";
import { huge, reckon, stage, stillPicture } from "./mock-floor.mjs";
import { startMock } from "./mock-server.mjs";

/** Screen value of an unlit pixel, so that its place can be seen. */
const UNLIT = 24;
const DAEMON = process.env.LITFLOOR_URL;

let browser;
before(async () => {
  browser = await check.launch();
});
after(() => browser?.close());

/** Runs with a mock and a page, and looks at the end whether anything went wrong on it. */
async function visit({ mock: options = {}, ...view }, run) {
  const mock = await startMock(options);
  const visitor = await check.open(browser, mock.url, view);
  try {
    await run(visitor.page, mock, visitor.wrong);
    assert.deepEqual(visitor.wrong, []);
  } finally {
    await visitor.close();
    await mock.stop();
  }
}

const goto = async (page, name) => {
  await page.evaluate((hash) => {
    location.hash = hash;
  }, `#/${name}`);
  await check.ready(page, name);
};

async function checkAllPages(page, label) {
  for (const name of check.PAGES) {
    await goto(page, name);
    if (name === "floor") await page.selectOption("#panel-picker", { index: 3 });
    if (name === "power") await page.getByRole("button", { name: "Open all" }).click();
    const what = `${name} ${label}`;
    await check.noViolations(page, what);
    await check.noSidewaysScroll(page, what);
    await check.largeTargets(page, what);
    await check.shoot(page, what.replaceAll(" ", "-"));
  }
}

for (const size of Object.keys(check.SIZES)) {
  for (const theme of check.THEMES) {
    test(`every page at ${size} size in the ${theme} theme`, () =>
      visit({ size, theme }, async (page) => {
        await check.ready(page, "floor");
        await checkAllPages(page, `${size} ${theme}`);
      }));

    test(`the daemon's own pages at ${size} size in the ${theme} theme`, { skip: !DAEMON && "LITFLOOR_URL is not set" }, async () => {
      const visitor = await check.open(browser, DAEMON, { size, theme });
      await check.ready(visitor.page, "floor");
      await visitor.page.waitForFunction((unlit) => {
        const canvas = document.querySelector('[data-layer="pixels"]');
        const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
        return data.some((value, i) => i % 4 !== 3 && value > unlit + 30);
      }, UNLIT);
      await checkAllPages(visitor.page, `daemon ${size} ${theme}`);
      assert.deepEqual(visitor.wrong, []);
      await visitor.close();
    });
  }
}

/** Waits until the plan shows these levels, then compares every pixel. */
async function planShows(page, model, levels) {
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

test("the plan shows every pixel where it lies, as sent or as asked", async () => {
  const model = stage();
  const asked = stillPicture(model).map((level) => Math.min(255, level * 2.5));
  const { sent } = reckon(model, asked);
  assert.ok(sent.some((level, i) => level < asked[i] - 20), "the cap must do something, or the switch shows nothing");
  await visit({ mock: { model, picture: () => asked } }, async (page) => {
    await check.ready(page, "floor");
    await planShows(page, model, sent);
    await page.getByRole("radio", { name: "As sent" }).focus();
    await page.keyboard.press("ArrowRight");
    await planShows(page, model, asked);
    await check.shoot(page, "floor-asked");
    await page.getByRole("radio", { name: "As sent" }).focus();
    await page.keyboard.press("Space");
    await planShows(page, model, sent);
  });
});

test("pixels with white are shown mixed and told raw", async () => {
  const model = stage({ white: true });
  const asked = stillPicture(model).fill(255);
  const { sent } = reckon(model, asked);
  assert.ok(sent[0] < 220, "the cap must do something");
  await visit({ mock: { model, picture: () => asked } }, async (page) => {
    await check.ready(page, "floor");
    await planShows(page, model, sent);
    await page.selectOption("#panel-picker", "A1");
    const told = (levels) => ["R", "G", "B", "W"].map((letter, c) => `${letter} ${levels[c]}`).join("  ");
    await page.waitForFunction(
      (words) => words.every((w) => document.querySelector('[role="slider"]').getAttribute("aria-valuetext").includes(w)),
      [`asked ${told(asked)}`, `sent ${told(sent)}`],
    );
    await check.shoot(page, "floor-white");
  });
});

test("a panel is found, read and left with the keyboard alone", async () => {
  const model = stage();
  const asked = stillPicture(model);
  const { sent, panels } = reckon(model, asked);
  await visit({ mock: { model, picture: () => asked } }, async (page) => {
    await check.ready(page, "floor");
    const plan = page.getByRole("application", { name: "Plan of the floor" });
    for (let tabs = 0; tabs < 20 && !(await plan.evaluate((e) => e === document.activeElement)); tabs++) {
      await page.keyboard.press("Tab");
    }
    await page.keyboard.press("ArrowRight");
    await page.getByRole("heading", { name: "Panel A1" }).waitFor();
    for (const key of ["ArrowRight", "ArrowRight", "ArrowDown", "ArrowDown", "ArrowRight"]) await page.keyboard.press(key);
    // C3, then over the hole at D3 and E3.
    await page.getByRole("heading", { name: "Panel F3" }).waitFor();
    const index = model.floor.panels.findIndex((p) => p.position === "F3");
    const facts = await page.getByRole("region", { name: "Panel F3" }).innerText();
    assert.match(facts, new RegExp(`Draw\\n+${panels[index].draw_a.toFixed(2)} A`));
    assert.match(facts, /right wing/);
    for (const span of model.floor.panels[index].spans) {
      assert.ok(facts.includes(`${span.port_address}, slots ${span.first_slot} to ${span.last_slot}`));
    }
    const slider = page.getByRole("slider", { name: "Pixel to read" });
    await slider.focus();
    await page.keyboard.press("End");
    const last = model.floor.panels[index].first_pixel + model.floor.panels[index].pixels - 1;
    const told = (levels) => `R ${levels[3 * last]}  G ${levels[3 * last + 1]}  B ${levels[3 * last + 2]}`;
    await page.waitForFunction(
      (words) => words.every((w) => document.querySelector('[role="slider"]').getAttribute("aria-valuetext").includes(w)),
      [`asked ${told(asked)}`, `sent ${told(sent)}`, "segment 4"],
    );
    await plan.focus();
    await page.keyboard.press("+");
    await page.waitForFunction(() => document.querySelector("[data-zoomed]").dataset.zoomed === "true");
    await check.shoot(page, "floor-zoomed");
    await page.keyboard.press("0");
    await page.waitForFunction(() => document.querySelector("[data-zoomed]").dataset.zoomed === "false");
    await page.keyboard.press("Escape");
    await page.getByRole("heading", { name: "No panel chosen" }).waitFor();
  });
});

test("a tap on the plan chooses the panel under the finger and leads to what is known of it", () =>
  visit({ size: "phone" }, async (page, mock) => {
    await check.ready(page, "floor");
    assert.equal(await page.getByRole("button", { name: "Positions" }).getAttribute("aria-pressed"), "false");
    const notices = await page.getByRole("region", { name: "Notices" }).boundingBox();
    const empty = await page.getByRole("heading", { name: "No panel chosen" }).boundingBox();
    assert.ok(notices.y < empty.y, "notices stand above what is empty");
    const { x, y } = await check.middleOf(page, mock.model.floor.panels.find((p) => p.position === "G4"));
    await page.touchscreen.tap(x, y);
    const heading = page.getByRole("heading", { name: "Panel G4" });
    await heading.waitFor();
    await page.waitForFunction(() => {
      const { top, bottom } = document.querySelector("#inspector-title").getBoundingClientRect();
      return top >= 0 && bottom < window.innerHeight / 2;
    });
    await page.getByRole("button", { name: "Leave this panel" }).click();
    await page.waitForFunction(() => document.querySelector("[data-viewport]").getBoundingClientRect().top >= 0);
  }));

test("two fingers zoom the plan round the place between them, and choose nothing", () =>
  visit({ size: "phone" }, async (page, mock) => {
    await check.ready(page, "floor");
    const panel = mock.model.floor.panels.find((p) => p.position === "B4");
    const before = await check.middleOf(page, panel);
    const scale = () => page.evaluate(() => Number(document.querySelector("[data-viewport]").dataset.viewport.split(" ")[0]));
    const small = await scale();
    const input = await page.context().newCDPSession(page);
    const touch = (type, apart) =>
      input.send("Input.dispatchTouchEvent", {
        type,
        touchPoints: apart === null ? [] : [-1, 1].map((side, id) => ({ x: before.x + (side * apart) / 2, y: before.y, id })),
      });
    await touch("touchStart", 40);
    for (let apart = 44; apart <= 120; apart += 4) await touch("touchMove", apart);
    await touch("touchEnd", null);
    await page.waitForFunction(() => document.querySelector("[data-zoomed]").dataset.zoomed === "true");
    const large = await scale();
    assert.ok(Math.abs(large / small - 3) < 0.1, `fingers three times as far apart zoom ${large / small} times`);
    const after = await check.middleOf(page, panel);
    assert.ok(Math.hypot(after.x - before.x, after.y - before.y) < 12, `${JSON.stringify(before)} went to ${JSON.stringify(after)}`);
    assert.equal(await page.evaluate(() => window.visualViewport.scale), 1, "the page itself is not zoomed");
    await page.getByRole("heading", { name: "No panel chosen" }).waitFor();
    await check.shoot(page, "floor-pinched");
  }));

test("a lost connection is told, the picture stays, and it comes back by itself", async () => {
  const model = stage();
  const asked = stillPicture(model);
  const mock = await startMock({ model, picture: () => asked });
  const { page, close } = await check.open(browser, mock.url);
  await check.ready(page, "floor");
  await planShows(page, model, reckon(model, asked).sent);
  await mock.stop();
  const notice = page.getByText("No answer from litfloor – the picture is old");
  await notice.waitFor();
  await page.waitForFunction(() => /is old\s*\([1-9]\d* s\)/.test(document.body.innerText));
  await planShows(page, model, reckon(model, asked).sent);
  await check.noViolations(page, "lost connection");
  await check.shoot(page, "lost-connection");
  const brighter = asked.map((level) => 255 - level);
  const again = await startMock({ model, picture: () => brighter, port: mock.port });
  await notice.waitFor({ state: "detached" });
  await planShows(page, model, reckon(model, brighter).sent);
  await close();
  await again.stop();
});

for (const size of [check.SMALL, check.SIZES.phone]) {
  test(`on ${size.width} px everything fits, with the daemon and without it`, async () => {
    const mock = await startMock({ model: stage({ simulated: true }), change: faulty });
    const { page, close } = await check.open(browser, mock.url, { size });
    try {
      await check.ready(page, "floor");
      await page.selectOption("#panel-picker", "A1");
      const every = async (label) => {
        for (const name of check.PAGES) {
          await goto(page, name);
          await check.noSidewaysScroll(page, `${name} ${label}`);
          await check.nothingClipped(page, "header, section[aria-label='Status'], section[aria-label='Connection']", `${name} ${label}`);
          await check.shoot(page, `${name}-${size.width}-${label}`);
        }
      };
      await every("online");
      await mock.stop();
      await page.getByText("offline", { exact: true }).waitFor();
      await page.getByText("It may have ended, or the network between is down.").waitFor();
      await every("offline");
      await page.getByText("was partial", { exact: true }).waitFor();
    } finally {
      await close();
      await mock.stop().catch(() => {});
    }
  });
}

test("before anything arrives the page says that it waits", () =>
  visit({ mock: { silent: true } }, async (page) => {
    await page.getByRole("heading", { name: "Loading the floor" }).waitFor();
    await check.noViolations(page, "loading");
    await check.shoot(page, "loading");
  }));

const waiting = (state) => ({
  ...state,
  signal: "waiting",
  frames_in: 0,
  frames_refused: {},
  universes: state.universes.map((u) => ({ ...u, fps: 0, age_s: null, slots: 0, sources: [], merging: false })),
  notices: [],
});

test("without a signal the page says what to set on the console", () =>
  visit({ size: "phone", mock: { change: waiting, picture: ({ xy, channels }) => new Uint8Array((xy.length / 2) * channels) } }, async (page) => {
    await goto(page, "signal");
    await page.getByText("Set the console's Art-Net target to this machine's address, port 6454.").waitFor();
    await check.noViolations(page, "waiting");
    await check.shoot(page, "signal-waiting");
    await goto(page, "floor");
    await check.shoot(page, "floor-waiting");
  }));

test("when only unmapped universes arrive they stand first, with the number that a console shows", () => {
  const astray = (state) => {
    const quiet = waiting(state);
    const other = { ...state.universes[0], port_address: "0:1:0", mapped: false };
    return { ...quiet, artnet: "10.20.0.2:6454", universes: [...quiet.universes, other] };
  };
  return visit({ size: "phone", mock: { change: astray } }, async (page) => {
    await goto(page, "signal");
    await page.getByText("Counting from 0 or from 1?").waitFor();
    await page.getByText("1 other universe arrives, the first is 0:1:0 (number 16) from 10.20.0.5.").waitFor();
    await page.getByText("Art-Net target: 10.20.0.2:6454.").waitFor();
    await page.getByText("litfloor does not limit flashing.").waitFor();
    const names = await page.locator("main li h3").allInnerTexts();
    assert.match(names[0], /^0:1:0\s*no. 16$/);
    await page.getByText("13 universes have not been seen yet").click();
    await page.getByRole("heading", { name: "0:0:0" }).waitFor();
    await check.noViolations(page, "unmapped only");
    await check.shoot(page, "signal-unmapped-only");
  });
});

for (const size of Object.keys(check.SIZES)) {
  test(`a floor that is only watched says so, and nowhere that something is held back, at ${size} size`, async () => {
    const model = stage({ watchOnly: true });
    const white = new Uint8Array((model.xy.length / 2) * 3).fill(255);
    await visit({ size, mock: { model, picture: () => white } }, async (page) => {
      await check.ready(page, "floor");
      await planShows(page, model, white);
      await page.getByText("As it arrives", { exact: true }).waitFor();
      await page.selectOption("#panel-picker", "A1");
      await page.getByRole("heading", { name: "Panel A1" }).waitFor();
      for (const name of check.PAGES) {
        await goto(page, name);
        if (name === "power") await page.getByRole("button", { name: "Open all" }).click();
        if (name === "floor" || name === "power") {
          await page.locator("main").getByText("litfloor only watches here and holds nothing back.").waitFor();
          await page.getByText(/^Feed L1 draws .* over its limit/).last().waitFor();
        }
        const said = await page.locator("body").innerText();
        assert.doesNotMatch(said, /\b(cap|capped|asked|scale|reserved|dimmed)\b/i, name);
        await check.noViolations(page, `watch only ${name}`);
        await check.noSidewaysScroll(page, `watch only ${name}`);
        await check.shoot(page, `watch-only-${name}-${size}`);
      }
      await goto(page, "nodes");
      await page.getByRole("heading", { name: "Watch only" }).waitFor();
    });
  });
}

const faulty = (state) => ({
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
    { port_address: "3:2:1", fps: 30, age_s: 0.03, sources: [{ address: "10.20.0.9", physical: 0, age_s: 0.03, ignored: false }], slots: 512, mapped: false, merging: false, synced: true, lost: false },
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

for (const size of Object.keys(check.SIZES)) {
  test(`faults are told in words at ${size} size`, () =>
    visit({ size, mock: { change: faulty } }, async (page) => {
      const words = {
        power: ["Even dark it draws more than its limit", "Feed L1: even dark its panels draw more than its limit."],
        nodes: ["no answer yet", "never answered", "short circuit", "Not among its outputs:", "Could not be sent:"],
        signal: ["lost", "ignored, the third", "not in the file", "two sources merged", "waits for sync", "Third source", "a new reason"],
        floor: ["Node right wing does not answer.", "21 panels of a silent node"],
      };
      for (const [name, texts] of Object.entries(words)) {
        await goto(page, name);
        for (const text of texts) await page.locator("main").getByText(text, { exact: true }).first().waitFor();
        await check.noViolations(page, `faults on ${name}`);
        await check.noSidewaysScroll(page, `faults on ${name}`);
        await check.shoot(page, `faults-${name}-${size}`);
      }
    }));
}

for (const [size, badge] of [["phone", "Demo"], ["desktop", "Demo – simulated"]]) {
  test(`a simulated floor is called so on every page at ${size} size`, () =>
    visit({ size, mock: { model: stage({ simulated: true }) } }, async (page) => {
      for (const name of check.PAGES) {
        await goto(page, name);
        await page.getByRole("banner").getByText(badge, { exact: true }).waitFor();
        await check.noSidewaysScroll(page, `simulated ${name}`);
      }
      await check.noViolations(page, "simulated");
    }));
}

test("the words of the power page are explained where a finger can read it", () =>
  visit({ size: "phone" }, async (page) => {
    await goto(page, "power");
    await page.getByText("What the words mean").click();
    for (const word of ["Reserved", "Own scale", "Scale in all", "Asked", "Draw", "Limit", "Rated", "Headroom"]) {
      await page.locator("details dt").getByText(word, { exact: true }).waitFor();
    }
    await check.noViolations(page, "words");
    await check.shoot(page, "power-words");
    await goto(page, "floor");
    await page.selectOption("#panel-picker", "A1");
    await page.getByText("Computed, not measured.").waitFor();
  }));

test("panels of a silent node are marked, and its old words are told as old", () => {
  const silent = (state) => ({
    ...state,
    nodes: state.nodes.map((n, i) => (i === 0 ? n : { ...n, online: false, last_reply_s: 14 })),
  });
  return visit({ mock: { change: silent } }, async (page, mock) => {
    await check.ready(page, "floor");
    await page.getByText("21 panels of a silent node").waitFor();
    const hatched = (panel) =>
      page.evaluate((p) => {
        const [scale, tx, ty] = document.querySelector("[data-viewport]").dataset.viewport.split(" ").map(Number);
        const marks = document.querySelector('[data-layer="marks"]').getContext("2d");
        const box = [p.x_mm * scale + tx, p.y_mm * scale + ty, p.width_mm * scale, p.height_mm * scale].map(Math.round);
        const { data } = marks.getImageData(...box);
        return data.filter((value, i) => i % 4 === 3 && value > 0).length / (data.length / 4);
      }, panel);
    const panelAt = (position) => mock.model.floor.panels.find((p) => p.position === position);
    await page.getByRole("button", { name: "Positions" }).click();
    await page.waitForFunction(() => document.querySelector('[aria-pressed="false"]'));
    await page.evaluate(() => new Promise((resolve) => requestAnimationFrame(() => requestAnimationFrame(resolve))));
    assert.ok((await hatched(panelAt("G4"))) > 0.1, "a panel of the silent node");
    assert.ok((await hatched(panelAt("B4"))) < 0.05, "a panel of the node that answers");
    await page.selectOption("#panel-picker", "G4");
    await page.getByText("Node right wing has not answered for 14 s: what this panel shows is not known.").waitFor();
    await check.noViolations(page, "silent node on the floor");
    await check.shoot(page, "floor-silent-node");
    await goto(page, "nodes");
    await page.getByText("As it said when it last answered, 14 s ago:").waitFor();
    await page.getByText("output, data flowed").first().waitFor();
    await check.shoot(page, "nodes-silent");
  });
});

test("the chosen theme stays after a reload", () =>
  visit({ theme: "dark" }, async (page) => {
    await check.ready(page, "floor");
    await page.getByRole("button", { name: "Change to the light theme" }).click();
    await page.reload();
    await check.ready(page, "floor");
    assert.equal(await page.locator("html").getAttribute("data-theme"), "light");
  }));

test("history is drawn for what is chosen", () =>
  visit({}, async (page) => {
    await goto(page, "power");
    await page.locator("figure").nth(1).waitFor();
    await page.getByText("Choose what is drawn").click();
    await page.getByRole("checkbox", { name: "L2" }).check();
    await page.getByText("feed L2", { exact: true }).last().waitFor();
    assert.equal(await page.locator("figure canvas").count(), 3);
    const drawn = await page.locator("figure canvas").nth(2).evaluate((canvas) => {
      const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
      return data.filter((_, i) => i % 4 === 3).filter((alpha) => alpha > 0).length;
    });
    assert.ok(drawn > 500, `${drawn} pixels drawn`);
    await check.noViolations(page, "history");
    await check.shoot(page, "power-history");
  }));

test("a hundred thousand pixels are shown without an element each", async () => {
  const model = huge();
  const asked = stillPicture(model);
  await visit({ mock: { model, picture: () => asked } }, async (page) => {
    await check.ready(page, "floor");
    await planShows(page, model, reckon(model, asked).sent);
    const elements = await page.evaluate(() => document.querySelectorAll("*").length);
    assert.ok(elements < 2500, `${elements} elements`);
    await check.shoot(page, "floor-hundred-thousand");
  });
});
