/** The stepping mode: questions, taps, what was found and the corrected file; a network that fails, and two phones. */
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { test } from "node:test";
import * as check from "./browser.mjs";
import { stage } from "./mock-floor.mjs";
import { TEXT } from "./mock-stepping.mjs";
import { browser, meant, visit } from "./visit.mjs";

const PASSPHRASE = "correct horse";
const button = (page, name) => page.getByRole("button", { name, exact: true });
const drawing = (page, at) => page.locator(`[data-drawing="${at}"]`);
const question = (page, number) => page.locator(`[data-question="${number}"]`).waitFor();
const posts = (mock, path) => mock.orders.requests.filter((name) => name === `POST /api/v1/stepping${path}`).length;

const come = async (page) => {
  await page.evaluate(() => {
    location.hash = "#/stepping";
  });
  await page.locator('main[aria-label="Walk the floor"] h2').first().waitFor();
};
const begin = async (page) => {
  await come(page);
  await button(page, "Begin the walk").click();
  await question(page, 0);
};

/** Tap near the pixel, then the pixel itself. */
async function tapPixel(page, mock, pixel) {
  const box = page.locator("[data-pixels]");
  await box.and(page.locator('[data-pixels="whole"]')).waitFor();
  const spot = page.locator(`[data-pixel="${pixel}"]`);
  // A finger is not made to wait, as a click is.
  await spot.and(page.locator('[aria-disabled="false"]')).waitFor();
  const touch = async () => {
    const { x, y, width, height } = await spot.boundingBox();
    await page.touchscreen.tap(x + width / 2, y + height / 2);
  };
  await touch();
  await box.and(page.locator('[data-pixels="near"]')).waitFor();
  await touch();
}

for (const size of [...Object.keys(check.SIZES), "small"]) {
  test(`a walk from its beginning to the corrected file at ${size} size`, () =>
    visit({ size: size === "small" ? check.SMALL : size }, async (page, mock) => {
      const fine = (what) => check.fine(page, `stepping ${what} ${size}`);
      // The way to it is a card of the test page, which stays marked.
      await page.getByRole("link", { name: "Test", exact: true }).click();
      await page.getByRole("link", { name: "Walk the floor…" }).click();
      await button(page, "Begin the walk").waitFor();
      assert.equal(await page.getByRole("link", { name: "Test", exact: true }).getAttribute("aria-current"), "true");
      await fine("begin");
      await button(page, "Begin the walk").click();
      await question(page, 0);
      await fine("one drawing");
      await drawing(page, 0).click();
      await question(page, 1);
      await fine("several drawings");
      await button(page, "It looks like none of these").click();
      await fine("none of these");
      await button(page, "C2").click();
      await question(page, 2);
      await fine("pixel");
      // While an answer is still under way a tap does nothing: whoever taps does so again.
      for (let taps = 1; (await page.locator('[data-pixels="near"]').count()) === 0; taps++) {
        assert.ok(taps <= 5, "the picture comes nearer");
        await page.locator('[data-pixels="whole"]').click({ position: { x: 120, y: 120 } });
        await page.locator('[data-pixels="near"]').waitFor({ timeout: 3000 }).catch(() => {});
      }
      await fine("pixel near");
      await page.locator('[data-pixels="near"]').click();
      await question(page, 3);
      await fine("colour");
      await button(page, "Green").click();
      await question(page, 4);
      await fine("dark");
      await button(page, "Nothing lights").click();
      await page.getByText("4 differences between plan and floor").waitFor();
      await page.locator('[data-line="added"]').first().waitFor();
      await fine("result");
      assert.deepEqual(mock.orders.walks.answers.map((answer) => answer.kind), ["drawing", "panel", "point", "colour", "nothing"]);
      assert.equal(mock.orders.state(), null, "the light has ended with the walk");
    }));
}

test("every tap is the answer that is sent, an answer is taken back, and the file is saved", () =>
  visit({ size: "phone" }, async (page, mock) => {
    const { answers } = mock.orders.walks;
    await come(page);
    await page.getByLabel("Level", { exact: true }).focus();
    await page.keyboard.press("End");
    await page.getByLabel("End the light when this browser goes away").uncheck();
    const sent = page.waitForRequest((request) => request.method() === "POST");
    await button(page, "Begin the walk").click();
    assert.deepEqual((await sent).postDataJSON(), { level: 255 });
    await question(page, 0);
    assert.deepEqual(mock.orders.state().lit, ["A1"]);

    // One drawing: its words say what is drawn. Whoever taps a panel in it says nothing yet.
    const one = page.getByRole("list", { name: "What is expected" });
    await one.getByText("A1: 1 red upper left, 11 blue at the top, 32 green").waitFor();
    await one.locator("svg").first().click({ position: { x: 200, y: 40 } });
    assert.equal(answers.length, 0);
    assert.deepEqual(await one.locator("[data-colour]").evaluateAll((all) => all.map((e) => [e.dataset.colour, e.getAttribute("d").match(/M/g).length])), [
      ["red", 1], ["blue", 11], ["green", 32],
    ]);
    await button(page, "Yes, just like this").click();
    await question(page, 1);
    assert.deepEqual(answers.at(-1), { kind: "drawing", drawing: 0 });
    // The page is read from the question on, by eye and by ear.
    assert.ok(await page.locator("[data-question]").evaluate((e) => e === document.activeElement && e.getBoundingClientRect().top >= 0));

    // Several: no two have the same words.
    const words = await page.locator("[data-drawing]").evaluateAll((all) => all.map((e) => e.textContent.replace(/^\d/, "")));
    assert.equal(new Set(words).size, 5);
    await button(page, "It looks like none of these").click();
    await button(page, "Back to the drawings").click();
    await button(page, "It looks like none of these").click();
    await button(page, "C2").click();
    await question(page, 2);
    assert.deepEqual(answers.at(-1), { kind: "panel", position: "C2" });

    // A pixel of the panel that is shown, and one that the arrows lead to.
    const c2 = mock.model.floor.panels.find((p) => p.position === "C2");
    await button(page, "Down: C2").click();
    const pixel = c2.first_pixel + 5;
    await tapPixel(page, mock, pixel);
    await question(page, 3);
    const { kind, position, x_mm, y_mm } = answers.at(-1);
    assert.deepEqual([kind, position], ["point", "C2"]);
    const away = Math.hypot(c2.x_mm + x_mm - mock.model.xy[2 * pixel], c2.y_mm + y_mm - mock.model.xy[2 * pixel + 1]);
    assert.ok(away < 37.5 / 2, `${away} mm from the pixel that was tapped, of 37.5 mm to the next`);

    await button(page, "Blue").click();
    await question(page, 4);
    await button(page, "Take the last answer back").click();
    await question(page, 3);
    assert.equal(answers.length, 3);
    assert.deepEqual(mock.orders.state().lit, ["D1"], "its light is back");
    await button(page, "Green").click();
    await question(page, 4);
    assert.deepEqual(answers.at(-1), { kind: "colour", colour: "green" });
    await page.getByText("So far: 1 difference").click();
    await page.getByText("The panels at B1 and C2 are swapped.").waitFor();
    await button(page, "Nothing lights").click();

    await page.getByText("4 differences between plan and floor").waitFor();
    assert.deepEqual(await page.locator('[data-plan] [data-marked="true"]').evaluateAll((all) => all.map((e) => e.dataset.position)), ["B1", "E1", "C2"]);
    await page.getByText("What was answered").first().click();
    await page.getByText("The slots of B1 lit C2 as drawn.").waitFor();
    await page.getByText("Light does not show which fuse feeds a panel.").waitFor();
    assert.deepEqual(await page.locator('[data-line="added"]').allTextContents(), [
      '+slots = "GRB"', "+slot = 13",
      '+panels = ["A1", "C2", "C1", "D1", "A2", "B2", "B1", "D2", "E2", "A3", "B3", "C3", "A4", "B4", "C4", "D4", "E4"]',
    ]);
    assert.equal(await page.locator('[data-line="removed"]').count(), 3);
    const saving = page.waitForEvent("download");
    await page.getByRole("link", { name: "Download the corrected file" }).click();
    const saved = await saving;
    assert.equal(saved.suggestedFilename(), "floor-corrected.toml");
    assert.equal(await readFile(await saved.path(), "utf8"), TEXT);

    await button(page, "End the walk…").click();
    await button(page, "Keep it").click();
    assert.ok(!mock.orders.requests.includes("DELETE /api/v1/stepping"));
    await button(page, "End the walk…").click();
    await check.noViolations(page, "before the end");
    await page.getByRole("dialog").getByRole("button", { name: "End the walk", exact: true }).click();
    await button(page, "Begin the walk").waitFor();
  }));

test("all is done by keyboard, too", () =>
  visit({}, async (page, mock) => {
    const { answers } = mock.orders.walks;
    await come(page);
    const press = async (target, key = "Enter") => {
      await target.focus();
      await page.keyboard.press(key);
    };
    await press(button(page, "Begin the walk"));
    await question(page, 0);
    const free = (target) => target.and(page.locator('[aria-disabled="false"]')).waitFor();
    await free(drawing(page, 0));
    await press(drawing(page, 0));
    await question(page, 1);
    await free(drawing(page, 0));
    // Whoever is quicker than the paint keeps the focus: it is led to the plan before, not after.
    const quicker = page.evaluate(
      () =>
        new Promise((resolve) => {
          new MutationObserver((_, watch) => {
            const panel = document.querySelector('[data-position="B1"]');
            if (!panel) return;
            watch.disconnect();
            panel.focus();
            resolve();
          }).observe(document.body, { subtree: true, childList: true });
        }),
    );
    await press(button(page, "It looks like none of these"));
    await quicker;
    // What is done after a paint is done by then.
    await page.evaluate(() => new Promise((resolve) => requestAnimationFrame(() => setTimeout(resolve))));
    assert.equal(await page.evaluate(() => document.activeElement?.dataset.position), "B1");
    for (const key of ["ArrowDown", "ArrowRight", "Enter"]) await page.keyboard.press(key);
    await question(page, 2);
    assert.deepEqual(answers.at(-1), { kind: "panel", position: "C2" });
    const c1 = mock.model.floor.panels.find((p) => p.position === "C1");
    await free(button(page, "Pixel 1 of C1"));
    await button(page, "Pixel 1 of C1").focus();
    for (const key of ["ArrowRight", "ArrowRight", "Enter"]) await page.keyboard.press(key);
    await question(page, 3);
    const tenths = (mm) => Math.round(mm * 10) / 10;
    const third = 2 * (c1.first_pixel + 2);
    assert.deepEqual(answers.at(-1), { kind: "point", position: "C1", x_mm: tenths(mock.model.xy[third] - c1.x_mm), y_mm: tenths(mock.model.xy[third + 1] - c1.y_mm) });
  }));

test("a double tap answers once, and a new question takes no tap that was meant for the last", () =>
  visit({ size: "phone" }, async (page, mock) => {
    await begin(page);
    await drawing(page, 0).and(page.locator('[aria-disabled="false"]')).waitFor();
    const { x, y } = await drawing(page, 0).evaluate((e) => e.getBoundingClientRect().toJSON());
    const first = drawing(page, 0).elementHandle();
    let release;
    mock.orders.hold = new Promise((resolve) => {
      release = resolve;
    });
    await (await first).evaluate((e) => (e.click(), e.click()));
    await page.getByText("You tapped: drawing 1.").waitFor();
    // While it is thought about nothing else can be tapped.
    await page.getByText("Thinking…").waitFor();
    await page.mouse.click(x + 20, y + 20);
    await check.noViolations(page, "thinking");
    await check.shoot(page, "stepping-thinking");
    await page.evaluate(() => {
      // As soon as the next question is there, before a person could have read it.
      new MutationObserver((_, watch) => {
        const next = document.querySelector('[data-question="1"]') && document.querySelector('[data-drawing="0"]');
        if (!next) return;
        watch.disconnect();
        next.click();
        window.tooEarly = true;
      }).observe(document.body, { subtree: true, childList: true, attributes: true });
    });
    release();
    await question(page, 1);
    await page.waitForFunction(() => window.tooEarly);
    await drawing(page, 0).and(page.locator('[aria-disabled="false"]')).waitFor();
    assert.equal(posts(mock, "/answer"), 1);
    assert.equal(mock.orders.walks.answers.length, 1);
  }));

test("an answer that was not heard is kept, shown and sent again", () =>
  visit({ size: "phone" }, async (page, mock, wrong) => {
    await begin(page);
    mock.orders.drop = true;
    await drawing(page, 0).click();
    await page.getByText("No answer came, but your tap is not lost.").waitFor();
    assert.equal(await drawing(page, 0).getAttribute("data-chosen"), "true");
    await check.noViolations(page, "not heard");
    await check.noSidewaysScroll(page, "not heard");
    await check.shoot(page, "stepping-not-heard");
    // It tries by itself.
    const again = posts(mock, "/answer");
    await page.waitForRequest((request) => request.method() === "POST");
    assert.ok(posts(mock, "/answer") >= again);
    mock.orders.drop = false;
    await question(page, 1);
    assert.deepEqual(mock.orders.walks.answers, [{ kind: "drawing", drawing: 0 }]);
    await page.locator("[data-unsent]").waitFor({ state: "detached" });

    // Heard, and only the answer to it was lost: it counts once.
    mock.orders.dropReply = true;
    await drawing(page, 3).click();
    await page.getByText("No answer came, but your tap is not lost.").waitFor();
    mock.orders.dropReply = false;
    await question(page, 2);
    await page.getByText("Your answer had arrived.").waitFor();
    assert.equal(mock.orders.walks.answers.length, 2);

    // Someone thinks better of it.
    mock.orders.drop = true;
    await button(page, "Nothing lights").click();
    await button(page, "Choose again").click();
    mock.orders.drop = false;
    await page.locator("[data-unsent]").waitFor({ state: "detached" });
    await tapPixel(page, mock, mock.model.floor.panels.find((p) => p.position === "C1").first_pixel);
    await question(page, 3);
    assert.equal(mock.orders.walks.answers.at(-1).kind, "point");
    meant(wrong);
  }));

test("while the daemon still thinks about another answer, this one waits", () =>
  visit({ size: "phone" }, async (page, mock, wrong) => {
    await begin(page);
    mock.orders.walks.thinking = true;
    await drawing(page, 0).click();
    await page.getByText("litfloor is still thinking").waitFor();
    mock.orders.walks.thinking = false;
    await button(page, "Send now").click();
    await question(page, 1);
    meant(wrong);
  }));

test("two phones see the same, and a tap for a question that has moved on is not counted", () =>
  visit({ size: "phone" }, async (page, mock, wrong) => {
    await begin(page);
    const other = await check.open(browser, `${mock.url}/#/stepping`, { size: "phone" });
    await question(other.page, 0);
    // Until it answers, the first one learns nothing of what the other does.
    const before = await (await fetch(`${mock.url}/api/v1/stepping`)).json();
    let deaf = true;
    await page.route("**/api/v1/stepping", (route) => (deaf ? route.fulfill({ json: before }) : route.continue()));
    page.once("request", function answers(request) {
      if (request.url().endsWith("/answer")) deaf = false;
      else page.once("request", answers);
    });
    await drawing(other.page, 0).click();
    await question(other.page, 1);
    const answered = page.waitForResponse((response) => response.url().endsWith("/answer"));
    await button(page, "Nothing lights").click();
    assert.equal((await (await answered).json()).error, "question_moved_on");
    await question(page, 1);
    await page.getByText("Your tap was not counted; this is what is open now.").waitFor();
    await check.noViolations(page, "moved on");
    await check.shoot(page, "stepping-moved-on");
    assert.equal(mock.orders.walks.answers.length, 1);
    // What the first one does, the second one sees by itself.
    await drawing(page, 1).click();
    await question(other.page, 2);
    await other.page.getByText("The walk went on elsewhere").waitFor();
    await button(page, "End the walk…").click();
    await page.getByRole("dialog").getByRole("button", { name: "End the walk", exact: true }).click();
    await other.page.getByText("The walk was ended elsewhere.").waitFor();
    assert.deepEqual(other.wrong, []);
    await other.close();
    meant(wrong);
  }));

test("a light that has gone is told and lit again, and “nothing lights” waits for it", () =>
  visit({ size: "phone" }, async (page, mock) => {
    await begin(page);
    await page.getByRole("region", { name: "Test pattern" }).getByRole("button", { name: "Stop" }).click();
    await page.getByText("The light of this question is not on now.").waitFor();
    assert.equal(await button(page, "Nothing lights").getAttribute("aria-disabled"), "true");
    await check.noViolations(page, "not lit");
    await check.shoot(page, "stepping-not-lit");
    await button(page, "Light it again").click();
    await page.getByText("The light of this question is not on now.").waitFor({ state: "detached" });
    assert.deepEqual(mock.orders.state().lit, ["A1"]);
    // Another pattern takes over.
    await page.evaluate(() => fetch("/api/v1/pattern", {
      method: "POST", headers: { "content-type": "application/json" },
      body: JSON.stringify({ pattern: { kind: "row", row: 2 }, cover: "all", level: 128, colour: "white", lasts_s: 60 }),
    }));
    await page.getByText("Another test pattern took over: Row 2").waitFor();
    await button(page, "Light it again").click();
    await page.getByText("Another test pattern took over").waitFor({ state: "detached" });
    assert.deepEqual(mock.orders.state().lit, ["A1"]);
  }));

test("a floor that is as planned is called so, with what light can't show", () =>
  visit({ size: "phone" }, async (page, mock) => {
    Object.assign(mock.orders.walks, { script: mock.orders.walks.script.slice(0, 1), found: { differences: [], otherwise: [], cautions: [] } });
    await begin(page);
    await drawing(page, 0).click();
    await page.getByText("The floor is as planned").waitFor();
    await page.getByText("Light can't show which fuse, supply or circuit feeds a panel").waitFor();
    assert.equal(await page.getByRole("link", { name: "Download the corrected file" }).count(), 0);
    await check.noViolations(page, "as planned");
    await check.shoot(page, "stepping-as-planned");
    await button(page, "Take the last answer back").click();
    await question(page, 0);
  }));

test("what can't be written into the file is told, and so is a floor that was replaced", () =>
  visit({ size: "phone" }, async (page, mock, wrong) => {
    Object.assign(mock.orders.walks, {
      script: mock.orders.walks.script.slice(0, 2),
      unamended: { error: "unamended", message: "two runs would share slots of 0:0:1" },
    });
    await begin(page);
    await drawing(page, 0).click();
    await question(page, 1);
    mock.orders.walks.outdated = true;
    await page.getByText("The floor was replaced since.").waitFor();
    await page.getByText("the walk could not be finished").waitFor();
    assert.equal(await page.getByText("The walk went on elsewhere").count(), 0);
    await page.getByText("Two runs would share slots of 0:0:1.").waitFor();
    await check.noViolations(page, "replaced");
    await check.noSidewaysScroll(page, "replaced");
    await check.shoot(page, "stepping-replaced");
    mock.orders.walks.unamended = { error: "nothing_found", message: "nothing was found that the file says" };
    await page.getByText("Walk it again…").click();
    await button(page, "Begin again").click();
    await question(page, 0);
    meant(wrong);
  }));

test("who may only look sees the question, and signs in to answer", () =>
  visit({ size: "phone", mock: { operator: { passphrase: PASSPHRASE, here: false } } }, async (page, mock) => {
    await come(page);
    await page.getByText("You may look. Sign in with the operator's passphrase").waitFor();
    const signIn = async (at) => {
      await button(at, "Sign in").first().click();
      await at.getByRole("dialog").getByLabel("Passphrase", { exact: true }).fill(PASSPHRASE);
      await at.keyboard.press("Enter");
      await at.getByRole("dialog").waitFor({ state: "detached" });
    };
    const other = await check.open(browser, `${mock.url}/#/stepping`, { size: "phone" });
    await signIn(other.page);
    await button(other.page, "Begin the walk").click();
    await question(page, 0);
    assert.equal(await drawing(page, 0).getAttribute("aria-disabled"), "true");
    await check.noViolations(page, "only looking");
    await check.shoot(page, "stepping-only-looking");
    await signIn(page);
    await drawing(page, 0).click();
    await question(page, 1);
    await other.close();
  }));

test("without a connection the page says so, and goes on when it is back", () =>
  visit({ size: "phone" }, async (page, mock, wrong) => {
    await begin(page);
    await page.context().setOffline(true);
    await page.getByText("litfloor does not answer now.").waitFor();
    await drawing(page, 0).click();
    await page.getByText("No answer came, but your tap is not lost.").waitFor();
    await check.shoot(page, "stepping-offline");
    await page.context().setOffline(false);
    await question(page, 1);
    await page.getByText("litfloor does not answer now.").waitFor({ state: "detached" });
    assert.equal(mock.orders.walks.answers.length, 1);
    meant(wrong);
  }));

test("a floor that is only watched can't be walked, and says why", () =>
  visit({ size: "phone", mock: { model: stage({ watchOnly: true }) } }, async (page) => {
    await come(page);
    await page.getByText("litfloor sends nothing and can light nothing").waitFor();
    assert.equal(await button(page, "Begin the walk").count(), 0);
    await check.noViolations(page, "only watched");
  }));
