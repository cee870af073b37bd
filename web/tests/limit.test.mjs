/** The whole floor turned down while it runs. */
import assert from "node:assert/strict";
import { test } from "node:test";
import * as check from "./browser.mjs";
import { goto, visit } from "./visit.mjs";

const card = (page) => page.getByRole("region", { name: "Whole floor" });
const puts = (mock) => mock.orders.requests.filter((name) => name === "PUT /api/v1/limit").length;

for (const size of Object.keys(check.SIZES)) {
  test(`the operator turns the floor down and up again (${size})`, () =>
    visit({ size }, async (page, mock) => {
      await goto(page, "power");
      await card(page).getByText("Not turned down").waitFor();
      const number = card(page).getByLabel("Turn down to");
      const send = card(page).getByRole("button", { name: "Turn down" });
      for (const nonsense of ["", "-5", "1.5"]) {
        await number.fill(nonsense);
        await number.press("Enter");
      }
      assert.equal(puts(mock), 0, "nonsense is not sent");
      await number.fill("1500");
      await send.click();
      await card(page).getByText("Turned down to 1.50 kVA").waitFor();
      assert.equal(await number.inputValue(), "");
      await check.fine(page, `limit ${size}`);
      await card(page).getByRole("button", { name: "Back to the file's limits" }).click();
      await card(page).getByText("Not turned down").waitFor();
      assert.equal(puts(mock), 2);
    }));
}

test("who may only look is told why, and changes nothing", () =>
  visit({ mock: { operator: { passphrase: "correct horse" } } }, async (page, mock) => {
    await goto(page, "power");
    await card(page).getByRole("button", { name: "Sign in" }).waitFor();
    await card(page).getByLabel("Turn down to").fill("10");
    await card(page).getByLabel("Turn down to").press("Enter");
    assert.equal(puts(mock), 0);
  }));

test("what becomes of an order that nobody answers is not known, and said so", () =>
  visit({}, async (page, mock, wrong) => {
    await goto(page, "power");
    mock.orders.drop = true;
    await card(page).getByLabel("Turn down to").fill("900");
    await card(page).getByRole("button", { name: "Turn down" }).click();
    await card(page).getByText("Whether it was done is not known").waitFor();
    wrong.length = 0;
  }));
