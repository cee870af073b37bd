/** A survey by sensors and one by eyes, from the cautions to what was found; stopped, refused, by others, and from a network that fails. */
import assert from "node:assert/strict";
import { test } from "node:test";
import * as check from "./browser.mjs";
import { stage } from "./mock-floor.mjs";
import { come, meant, visit } from "./visit.mjs";

const button = (at, name) => at.getByRole("button", { name, exact: true });
const panelOn = (page, position) => page.locator(`[data-position="${position}"]`);
const question = (page, number) => page.locator(`[data-question="${number}"]`).waitFor();
const last = (mock, name) => mock.orders.bodies[mock.orders.requests.lastIndexOf(name)];
const survey = (page) => come(page, "survey", "Survey");
const drawn = (page, look) => page.locator(`main path[data-look="${look}"]`);

for (const size of Object.keys(check.SIZES)) {
  test(`a survey by sensors at ${size} size`, () =>
    visit({ size }, async (page, mock) => {
      const fine = (what) => check.fine(page, `survey ${what} ${size}`);
      const { surveys } = mock.orders.health;
      await survey(page);
      // What can hurt stands where it is decided.
      for (const words of ["The floor goes dark and then flickers slowly", "more than three times a second", "An estimate is no permission"]) await page.getByText(words).waitFor();
      await fine("begin");
      surveys.done = 0.02;
      await button(page, "Begin the survey").click();
      await page.getByText(/0 .*3 of 196 items decided|3 of 196 items decided/).waitFor();
      await page.getByText("how long it takes can't be told yet").waitFor();
      const { ends_with, ...wish } = last(mock, "POST /api/v1/survey");
      assert.deepEqual({ ...wish, ends: typeof ends_with }, { level: 128, by: "sensors", ends: "string" });
      surveys.done = 0.6;
      await page.getByText(/117 of 196 items decided, about 5 s left/).waitFor();
      await drawn(page, "good").waitFor();
      assert.equal(await page.getByRole("progressbar", { name: "Items decided" }).evaluate((bar) => bar.value > 0.59 && bar.value < 0.6), true);
      await fine("running");
      surveys.done = 1;
      await page.locator('[data-outcome="decided"]').waitFor();
      await page.getByText("Every segment is decided. Found 3 dead segments.").waitFor();
      assert.match(await page.locator('[data-outcome="decided"]').innerText(), /C4\s+segments 3 and 4\s+F5\s+segment 1/);
      assert.match(await panelOn(page, "C4").first().textContent(), /D dark segments/);
      await fine("outcome");
      await page.getByRole("link", { name: "To the faults and their causes" }).click();
      await page.locator('[data-fault="F5/1/segment_dead"]').waitFor();
    }));

  test(`a survey by eyes at ${size} size`, () =>
    visit({ size }, async (page, mock) => {
      const fine = (what) => check.fine(page, `survey ${what} ${size}`);
      await survey(page);
      await page.getByRole("radio", { name: "My eyes" }).check();
      await page.getByRole("radio", { name: "Chosen panels" }).check();
      await page.getByLabel("Panels", { exact: true }).fill("a1, z9");
      await page.getByText("Not on this floor: Z9.").waitFor();
      await page.getByLabel("Panels", { exact: true }).fill("A1");
      await panelOn(page, "B1").click();
      await page.getByText("2 panels chosen.").waitFor();
      await fine("chosen");
      await button(page, "Begin the survey").click();
      await question(page, 1);
      assert.deepEqual(last(mock, "POST /api/v1/survey").positions, ["A1", "B1"]);
      // Two of four segments of each panel should be lit: a tap asks which of them is dark.
      await panelOn(page, "A1").click();
      await page.getByText("Which segments of A1 are dark?").waitFor();
      await button(page, "Segment 3").click();
      await button(page, "1 segment is not as drawn").waitFor();
      await fine("eyes");
      await button(page, "✕ Segment 3").click();
      await button(page, "All of it is as drawn").waitFor();
      await button(page, "Segment 3").click();
      // What gives light and shouldn't is told, too, and taken back.
      await panelOn(page, "C1").click();
      await page.getByText("Nothing of C1 should be lit").waitFor();
      await button(page, "Segment 4").click();
      await button(page, "2 segments are not as drawn").waitFor();
      await button(page, "✕ Segment 4").click();
      await button(page, "1 segment is not as drawn").click();
      await question(page, 2);
      assert.deepEqual(last(mock, "POST /api/v1/survey/seen"), { number: 1, dark: [{ position: "A1", segment: 3 }] });
      // An answer that was wrong is taken back, and its light comes again.
      await button(page, "Take the last answer back").click();
      await question(page, 1);
      assert.deepEqual(last(mock, "POST /api/v1/survey/undo"), { number: 2 });
      await panelOn(page, "A1").click();
      await button(page, "Segment 3").click();
      await button(page, "1 segment is not as drawn").click();
      await question(page, 2);
      await button(page, "All of it is as drawn").click();
      await question(page, 3);
      await button(page, "All of it is as drawn").click();
      await page.getByText("Every light was answered. Found 1 dead segment.").waitFor();
      await fine("eyes outcome");
    }));
}

test("a link from a fault surveys only its panel", () =>
  visit({}, async (page, mock) => {
    await come(page, "survey/C4", "Survey");
    assert.equal(await page.getByLabel("Panels", { exact: true }).inputValue(), "C4");
    await page.getByLabel(/Find weak segments, too/).check();
    await button(page, "Begin the survey").click();
    await page.getByText("of 4 items decided").waitFor();
    const { positions, weak } = last(mock, "POST /api/v1/survey");
    assert.deepEqual({ positions, weak }, { positions: ["C4"], weak: true });
  }));

test("a survey whose readings fit nothing is never shown as one that found all well", () =>
  visit({ size: "phone" }, async (page, mock) => {
    const { surveys } = mock.orders.health;
    surveys.broken.clear();
    for (const doubtful of [false, true]) {
      surveys.doubtful = doubtful;
      surveys.done = 0.3;
      await survey(page);
      await button(page, "Begin the survey").click();
      await page.getByText("of 196 items decided").waitFor();
      surveys.done = 1;
      const outcome = page.locator('[data-outcome="decided"]');
      await outcome.waitFor();
      const status = outcome.locator("[data-tone]").first();
      assert.equal(await status.innerText(), doubtful ? "Survey done, but it can’t be relied on" : "Survey done");
      assert.equal(await status.getAttribute("data-tone"), doubtful ? "warning" : "good");
      assert.equal(await outcome.getByText("differ more from what was found").count(), doubtful ? 1 : 0);
      await check.fine(page, `survey ${doubtful ? "doubtful" : "good"}`);
    }
  }));

test("a survey is stopped, also from another page's visit", () =>
  visit({ size: "phone" }, async (page, mock) => {
    mock.orders.health.surveys.done = 0.3;
    await survey(page);
    await button(page, "Begin the survey").click();
    await page.getByText("of 196 items decided").waitFor();
    await page.reload();
    await page.getByText("of 196 items decided").waitFor();
    await button(page, "Stop the survey").click();
    await page.locator('[data-outcome="stopped"]').getByText("The survey was stopped.").waitFor();
  }));

test("a survey that is refused says why, and one without a sensor can't go by sensors", () =>
  visit({ mock: { change: (state) => ({ ...state, sensors: [] }) } }, async (page, mock, wrong) => {
    await survey(page);
    // Without a sensor it goes by eyes from the start.
    assert.equal(await page.getByRole("radio", { name: "My eyes" }).isChecked(), true);
    mock.orders.health.surveys.refuse = "Node left wing is silent: see that it answers.";
    await button(page, "Begin the survey").click();
    await page.getByRole("alert").getByText("Node left wing is silent").waitFor();
    await page.getByRole("radio", { name: "Sensors" }).check();
    await page.getByText("No sensor of current is in the floor file").waitFor();
    const sent = mock.orders.requests.length;
    await button(page, "Begin the survey").click({ force: true });
    assert.equal(mock.orders.requests.length, sent);
    meant(wrong);
  }));

test("an answer that somebody else gave first is not counted, and what is open now is shown", () =>
  visit({ size: "phone" }, async (page, mock, wrong) => {
    await survey(page);
    await page.getByRole("radio", { name: "My eyes" }).check();
    await button(page, "Begin the survey").click();
    await question(page, 1);
    // The other phone's answer has not been seen here yet.
    await page.route("**/api/v1/survey", (route) => route.abort());
    mock.orders.health.surveys.on.answers.push([]);
    await button(page, "All of it is as drawn").click();
    await page.getByRole("alert").getByText("That question is not open").waitFor();
    await page.unroute("**/api/v1/survey");
    await question(page, 2);
    meant(wrong);
  }));

test("who may only look sees how far it is and can change nothing", () =>
  visit({ size: "phone", mock: { operator: { passphrase: "correct horse", here: false } } }, async (page, mock) => {
    await survey(page);
    await page.getByText("Sign in with the operator's passphrase").waitFor();
    await button(page, "Begin the survey").click({ force: true });
    assert.deepEqual(mock.orders.requests, []);
    mock.orders.health.surveys.on = { by: "eyes", since: 0, answers: [], all: [{ position: "A1", segment: 1 }] };
    mock.orders.health.changed();
    await question(page, 1);
    await panelOn(page, "A1").click({ force: true });
    await button(page, "All of it is as drawn").click({ force: true });
    assert.deepEqual(mock.orders.requests, []);
    await check.fine(page, "survey looking only");
  }));

test("a floor that is only watched has no survey", () =>
  visit({ mock: { model: stage({ watchOnly: true }) } }, async (page) => {
    await survey(page);
    await page.getByText("it sends nothing and can light nothing").or(page.getByText("litfloor sends nothing and can light nothing")).waitFor();
    assert.equal(await button(page, "Begin the survey").count(), 0);
  }));
