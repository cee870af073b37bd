/** What the pages say when something is missing, wrong or only watched. */
import assert from "node:assert/strict";
import { test } from "node:test";
import * as check from "./browser.mjs";
import { reckon, stage, stillPicture } from "./mock-floor.mjs";
import { startMock } from "./mock-server.mjs";
import { browser, faulty, goto, planShows, visit, waiting } from "./visit.mjs";

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

test("of two litfloors every page says which this one is", () => {
  const standby = { role: "second", duty: "stands_by", since_s: 9, taken: 0, peer: "10.0.0.2:6454", peer_duty: "leads", peer_heard_s: 0.1, same_file: true, peer_hears_picture: true, deaf: false };
  return visit({ mock: { change: (state) => ({ ...state, standby }) } }, async (page) => {
    for (const name of check.PAGES) {
      await goto(page, name);
      await page.getByLabel("Status").getByText("stands by", { exact: true }).waitFor();
    }
    await goto(page, "floor");
    await page.getByText("Nothing leaves to the nodes from here").waitFor();
  });
});

test("before anything arrives the page says that it waits", () =>
  visit({ mock: { silent: true } }, async (page) => {
    await page.getByRole("heading", { name: "Loading the floor" }).waitFor();
    await check.noViolations(page, "loading");
    await check.shoot(page, "loading");
  }));

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

test("of many warnings the first is shown and the others are folded; dangers never are", () => {
  const notice = (severity, text) => ({ severity, code: text.replace(" ", "_"), text });
  const dangers = ["danger one", "danger two"].map((text) => notice("danger", text));
  const warnings = ["one", "two", "three", "four"].map((text) => notice("warning", `warning ${text}`));
  let notices = [...dangers, ...warnings];
  return visit({ size: "phone", mock: { change: (state) => ({ ...state, notices }) } }, async (page) => {
    const region = page.getByRole("region", { name: "Notices" });
    const seen = () => region.getByRole("listitem").evaluateAll((all) => all.filter((e) => e.checkVisibility()).map((e) => e.textContent.trim()));
    await goto(page, "test");
    await region.getByText("and 3 others").waitFor();
    assert.deepEqual(await seen(), ["danger danger one", "danger danger two"]);
    notices = warnings;
    await region.getByText("and 2 others").waitFor();
    assert.deepEqual(await seen(), ["warning warning one"]);
    await check.noViolations(page, "folded warnings");
    await region.locator("summary").click();
    assert.deepEqual(await seen(), ["warning warning one", "warning warning three", "warning warning four"]);
    assert.ok(await region.locator("summary").getByText("warning two").isVisible());
    // Where nothing comes after them, all are there.
    await goto(page, "floor");
    await region.getByText("warning four").waitFor();
    assert.equal((await seen()).length, 4);
  });
});

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
