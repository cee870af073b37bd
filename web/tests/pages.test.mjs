/** Every page at every size and in both themes. LITFLOOR_URL checks a running daemon's pages too. */
import assert from "node:assert/strict";
import { test } from "node:test";
import * as check from "./browser.mjs";
import { UNLIT, browser, goto, visit } from "./visit.mjs";

const DAEMON = process.env.LITFLOOR_URL;

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
