/** Every page at every size and in both themes. */
import assert from "node:assert/strict";
import { test } from "node:test";
import * as check from "./browser.mjs";
import { corner } from "./mock-floor.mjs";
import { everyPage, goto, visit } from "./visit.mjs";

for (const size of Object.keys(check.SIZES)) {
  test(`every page at ${size} size`, () =>
    visit({ size, mock: { model: corner() } }, async (page) => {
      await check.ready(page, "floor");
      await everyPage(page, size);
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
