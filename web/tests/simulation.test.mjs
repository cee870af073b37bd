/** A simulated floor, broken and mended. */
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
      await card(page).getByLabel("Panel that breaks").selectOption("C4");
      await card(page).getByLabel("Where in it").selectOption("3");
      await card(page).getByRole("button", { name: "Break it" }).click();
      await card(page).getByText("C4, between segments 2 and 3: supply side open").waitFor();
      await card(page).getByLabel("What is wrong with it").selectOption("stuck");
      await card(page).getByText("It is half lit, whatever it is sent.").waitFor();
      await card(page).getByLabel("Where in it").selectOption({ label: "segment 2" });
      await card(page).getByRole("button", { name: "Break it" }).click();
      await card(page).getByText("C4, segment 2: segment stuck").waitFor();
      await card(page).getByText("Broken now: 2").waitFor();
      // The floor of this page has pixels that are told apart.
      assert.equal(await card(page).getByRole("option", { name: "One colour's wire open" }).count(), 0);
      await check.fine(page, `simulation ${size}`);
      await card(page).getByRole("button", { name: "Mend" }).first().click();
      await card(page).getByText("Broken now: 1").waitFor();
      await card(page).getByRole("button", { name: "Mend" }).click();
      await card(page).getByText("Nothing is broken.").waitFor();
      assert.equal(posts(mock), 4);
    }));
}

test("what a loose joint does is seen as it does it", () =>
  visit({ mock: simulated() }, async (page) => {
    await goto(page, "test");
    await card(page).getByLabel("What is wrong with it").selectOption("loose");
    await card(page).getByRole("button", { name: "Break it" }).click();
    await card(page).getByText("Open at this moment.").waitFor();
    await card(page).getByText("Closed at this moment.").waitFor();
  }));

test("a node restarts as a whole", () =>
  visit({ mock: simulated() }, async (page) => {
    await goto(page, "test");
    await card(page).getByLabel("Where in it").selectOption("3");
    await card(page).getByLabel("What is wrong with it").selectOption("node_restarts");
    await card(page).getByLabel("Where in it").getByRole("option", { name: "the whole panel" }).waitFor({ state: "attached" });
    await card(page).getByRole("button", { name: "Break it" }).click();
    await card(page).getByText("A1: node restarts").waitFor();
  }));

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
