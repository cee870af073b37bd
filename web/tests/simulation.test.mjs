/** Joints of a simulated floor, broken and mended. */
import assert from "node:assert/strict";
import { test } from "node:test";
import * as check from "./browser.mjs";
import { stage } from "./mock-floor.mjs";
import { goto, visit } from "./visit.mjs";

const card = (page) => page.getByRole("region", { name: "This floor is simulated" });
const posts = (mock) => mock.orders.requests.filter((name) => name === "POST /api/v1/simulation").length;
const simulated = (operator = {}) => ({ model: stage({ simulated: true }), operator });

for (const size of Object.keys(check.SIZES)) {
  test(`a joint is broken, listed and mended (${size})`, () =>
    visit({ size, mock: simulated() }, async (page, mock) => {
      await goto(page, "test");
      await card(page).getByText("Nothing is broken.").waitFor();
      await card(page).getByLabel("Panel of the joint").selectOption("C4");
      await card(page).getByLabel("Joint", { exact: true }).selectOption("3");
      await card(page).getByRole("button", { name: "Break it" }).click();
      await card(page).getByText("C4, between segments 2 and 3: supply side open").waitFor();
      await card(page).getByLabel("Joint", { exact: true }).selectOption("1");
      await card(page).getByLabel("What is wrong with it").selectOption("colour_open");
      await card(page).getByText("Only analogue strip can break like that").waitFor();
      await card(page).getByRole("button", { name: "Break it" }).click();
      await card(page).getByText("C4, into segment 1: one colour's wire open (green)").waitFor();
      await card(page).getByText("Broken joints: 2").waitFor();
      await check.fine(page, `simulation ${size}`);
      await card(page).getByRole("button", { name: "Mend" }).first().click();
      await card(page).getByText("Broken joints: 1").waitFor();
      await card(page).getByRole("button", { name: "Mend" }).click();
      await card(page).getByText("Nothing is broken.").waitFor();
      assert.equal(posts(mock), 4);
    }));
}

test("a real floor has no such card", () =>
  visit({}, async (page, mock) => {
    await goto(page, "test");
    await page.getByRole("region", { name: "Light something" }).waitFor();
    assert.equal(await card(page).count(), 0);
    assert.equal((await fetch(`${mock.url}/api/v1/simulation`)).status, 404);
  }));

test("who may only look breaks nothing, and is told why", () =>
  visit({ mock: simulated({ passphrase: "correct horse" }) }, async (page, mock) => {
    await goto(page, "test");
    await card(page).getByRole("button", { name: "Sign in" }).waitFor();
    await card(page).getByRole("button", { name: "Break it" }).click({ force: true });
    assert.equal(posts(mock), 0);
  }));

test("what the floor refuses is said, and the list stays", () =>
  visit({ mock: simulated() }, async (page, mock, wrong) => {
    await goto(page, "test");
    await card(page).getByText("Nothing is broken.").waitFor();
    // The floor of the daemon is no longer the one of this page.
    mock.model.floor.panels[0].segments = [];
    await card(page).getByRole("button", { name: "Break it" }).click();
    await card(page).getByRole("alert").getByText("has no such joint").waitFor();
    await card(page).getByText("Nothing is broken.").waitFor();
    wrong.length = 0;
  }));
