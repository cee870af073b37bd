/** The plan of the floor: what it shows, and how keyboard, finger and fingers move it. */
import assert from "node:assert/strict";
import { test } from "node:test";
import * as check from "./browser.mjs";
import { huge, reckon, stage, stillPicture } from "./mock-floor.mjs";
import { meant, planShows, visit } from "./visit.mjs";

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
    // The last of the moves are drawn with one of the next animation frames.
    const zoomed = (small) => Math.abs(Number(document.querySelector("[data-viewport]").dataset.viewport.split(" ")[0]) / small - 3) < 0.1;
    await page.waitForFunction(zoomed, small, { timeout: 10_000 }).catch(() => {});
    const large = await scale();
    assert.ok(Math.abs(large / small - 3) < 0.1, `fingers three times as far apart zoom ${large / small} times`);
    const after = await check.middleOf(page, panel);
    assert.ok(Math.hypot(after.x - before.x, after.y - before.y) < 12, `${JSON.stringify(before)} went to ${JSON.stringify(after)}`);
    assert.equal(await page.evaluate(() => window.visualViewport.scale), 1, "the page itself is not zoomed");
    await page.getByRole("heading", { name: "No panel chosen" }).waitFor();
    await check.shoot(page, "floor-pinched");
  }));

test("a hundred thousand pixels are shown without an element each", async () => {
  const model = huge();
  const asked = stillPicture(model);
  // The mock has a thousand panels to tell of, and no more than that to do; where the machine has others to
  // serve as well, the page may have to connect once more.
  await visit({ mock: { model, picture: () => asked, state_ms: 2000 } }, async (page, _, wrong) => {
    await check.ready(page, "floor");
    await planShows(page, model, reckon(model, asked).sent);
    meant(wrong);
    const elements = await page.evaluate(() => document.querySelectorAll("*").length);
    assert.ok(elements < 2500, `${elements} elements`);
    await check.shoot(page, "floor-hundred-thousand");
  });
});
