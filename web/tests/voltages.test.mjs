/** Where voltage is lost, and what is said while it is not known. */
import assert from "node:assert/strict";
import { test } from "node:test";
import * as check from "./browser.mjs";
import { stage, stillPicture } from "./mock-floor.mjs";
import { goto, visit } from "./visit.mjs";

const white = (model) => new Uint8Array((model.xy.length / 2) * model.channels).fill(255);
const card = (page) => page.getByRole("region", { name: "Voltages" });

for (const [name, size] of Object.entries(check.SIZES)) {
  test(`panels that lose light are named, worst first, and found on the plan (${name})`, async () => {
    const model = stage();
    const asked = white(model);
    await visit({ mock: { model, picture: () => asked }, size }, async (page, mock) => {
      await goto(page, "power");
      const told = await (await fetch(`${mock.url}/api/v1/voltages`)).json();
      assert.ok(told.starving_panels > 3, "the mock must lose some light");
      await card(page).getByText(`${told.starving_panels} panels lose light for want of voltage`).waitFor();
      const first = card(page).getByRole("link").first();
      assert.equal(await first.textContent(), told.starving[0].position);
      await card(page).getByText("no cable for feed R3").waitFor();
      await check.noSidewaysScroll(page, `voltages ${name}`);
      await check.noViolations(page, `voltages ${name}`);
      await check.shoot(page, `voltages-${name}`);
      await first.click();
      await check.ready(page, "floor");
      const lost = page.getByRole("definition").filter({ hasText: `at pixel ${told.starving[0].lowest_pixel}` });
      await lost.waitFor();
      await page.getByText(`${told.starving_panels} panels short of voltage`).waitFor();
    });
  });
}

test("in the light theme it reads as well", () =>
  visit({ mock: { picture: white }, theme: "light" }, async (page) => {
    await goto(page, "power");
    await card(page).getByRole("table").waitFor();
    await check.noViolations(page, "voltages light");
    await check.shoot(page, "voltages-light");
  }));

test("voltages that could not be found are not shown as if they were", () =>
  visit({ mock: { picture: stillPicture, changeVoltages: (v) => ({ ...v, found: false, off_mv: 41.6 }) } }, async (page) => {
    await goto(page, "power");
    await card(page).getByText("off by 41.6 mV").waitFor();
    assert.equal(await card(page).getByRole("table").count(), 0);
  }));

test("a floor file without cables and strips is told what to add", () =>
  visit({ mock: { model: stage({ copper: false }), picture: stillPicture } }, async (page) => {
    await goto(page, "power");
    await card(page).getByText("The floor file describes no cable and no strip").waitFor();
    await check.shoot(page, "voltages-none");
  }));
