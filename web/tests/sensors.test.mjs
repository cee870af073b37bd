/** Sensors on the power page: what is measured beside what is computed, and the calibration run. */
import assert from "node:assert/strict";
import { test } from "node:test";
import * as check from "./browser.mjs";
import { goto, meant, visit } from "./visit.mjs";

const button = (page, name) => page.getByRole("button", { name, exact: true });
const card = (page) => page.getByRole("region", { name: "Sensors" });

async function shoot(page, name) {
  await card(page).scrollIntoViewIfNeeded();
  await check.shoot(page, name);
}

for (const size of Object.keys(check.SIZES)) {
  test(`sensors and a calibration run at ${size} size`, () =>
    visit({ size }, async (page, mock, wrong) => {
      const fine = (what) => check.fine(page, `sensors ${what} ${size}`);
      await goto(page, "power");
      for (const word of ["good", "more than computed", "silent", "frozen", "absurd", "waiting"]) {
        await card(page).getByText(word, { exact: true }).waitFor();
      }
      const first = card(page).getByRole("listitem").first();
      assert.match(await first.innerText(), /main clamp[\s\S]*at supply[\s\S]*\+1\.0 %[\s\S]*red × 1\.03/);
      await fine("all");

      // Nothing begins before someone says that the floor is clear.
      await button(page, "Calibrate").click({ force: true });
      assert.equal(mock.orders.requests.filter((name) => name.includes("calibration")).length, 0);
      await page.getByText("nobody should work on wires").waitFor();
      await page.getByLabel("Nobody is on the floor or at its wires").check();
      mock.orders.calibration = "refused";
      await button(page, "Calibrate").click();
      await page.getByRole("alert").getByText("No sensor of current reports").waitFor();
      meant(wrong);
      mock.orders.calibration = null;
      await button(page, "Calibrate").click();
      await page.getByText("Step 4 of 9, 32 s left.").waitFor();
      await fine("running");
      await button(page, "Stop the run").click();
      await button(page, "Calibrate").waitFor();
      mock.orders.calibration = "ended";
      await page.getByText("second shunt: nothing learned, it was silent during the run").waitFor();
      await fine("ended");

      await page.getByText("Token for readings over HTTP").click();
      await button(page, "Make a new token").click();
      await page.getByText("it is not shown again").waitFor();
      await fine("token");
    }));
}

test("without a sensor the page says how to add one", () =>
  visit({ size: "phone", mock: { change: (state) => ({ ...state, sensors: [] }) } }, async (page) => {
    await goto(page, "power");
    await page.getByText("Add a [[sensor]] to the floor file").waitFor();
    await check.noViolations(page, "no sensor");
    await shoot(page, "sensors-none");
  }));

test("who may only look sees the sensors and can begin nothing", () =>
  visit({ mock: { operator: { passphrase: "correct horse", here: false } } }, async (page) => {
    await goto(page, "power");
    await card(page).getByText("Sign in with the operator's passphrase").waitFor();
    assert.equal(await button(page, "Calibrate").count(), 0);
    assert.equal(await page.getByText("Token for readings over HTTP").count(), 0);
  }));
