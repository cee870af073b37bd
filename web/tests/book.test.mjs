/** The pages of the book: a panel's history, all panels, the bench, the rebuild, labels; unknown, empty, refused and forbidden. */
import assert from "node:assert/strict";
import { test } from "node:test";
import * as check from "./browser.mjs";
import { stage } from "./mock-floor.mjs";
import { come, meant, visit } from "./visit.mjs";

const button = (at, name) => at.getByRole("button", { name, exact: true });
const panelOn = (page, position) => page.locator(`[data-position="${position}"]`);
const card = (page, name) => page.getByRole("region", { name, exact: true });
const last = (mock, name) => mock.orders.bodies[mock.orders.requests.lastIndexOf(name)];
/** A daemon whose time runs ten times as fast, and a sensor that reads anew with every state: a signature comes soon. */
const quick = {
  state_ms: 50,
  change: (state) => ({ ...state, uptime_s: 10 * state.uptime_s, sensors: state.sensors.map((sensor) => (sensor.name === "main clamp" ? { ...sensor, age_s: 0.02 } : sensor)) }),
};

for (const size of Object.keys(check.SIZES)) {
  test(`the history of a panel at ${size} size`, () =>
    visit({ size }, async (page, mock) => {
      await come(page, "panels", "Panels");
      await page.getByText("49 panels").waitFor();
      await page.getByLabel("Search by serial or position").fill("m01");
      await page.getByRole("link", { name: /^M018/ }).waitFor();
      await page.getByRole("link", { name: /^M020/ }).waitFor({ state: "detached" });
      await check.fine(page, `panels ${size}`);
      await page.getByRole("link", { name: /^M017/ }).click();
      await page.getByRole("heading", { name: "Panel M017" }).waitFor();
      await card(page, "Bench tests").getByText("Measured: dark 0.04 A, red 0.51 A, green 0.49 A, blue 0.50 A, white 1.43 A.").waitFor();
      await card(page, "Faults").getByText("H6, segment 1 – proved good by a survey").click();
      await card(page, "Faults").getByText("cold joint, soldered again").waitFor();
      await card(page, "Where it lay").getByText("until now").waitFor();
      await page.getByText("Add a note").click();
      await card(page, "Notes").getByLabel("Note").fill("Feet are worn.");
      await card(page, "Notes").getByLabel("Who are you?").fill("Noor");
      await button(page, "Write it down").click();
      await card(page, "Notes").getByText("Noor: Feet are worn.").waitFor();
      assert.deepEqual(last(mock, "POST /api/v1/book/panels/M017/notes"), { text: "Feet are worn.", who: "Noor" });
      await check.fine(page, `panel ${size}`);
    }));

  test(`the bench at ${size} size`, () =>
    visit({ size, mock: quick }, async (page, mock) => {
      await come(page, "bench", "Bench");
      await page.getByText("Type or scan the serial of the panel.").waitFor();
      await page.getByLabel("Serial of the panel").fill("M017");
      await check.fine(page, `bench begin ${size}`);
      await button(page, "Begin the test").click();
      const seen = [];
      for (const key of ["dark", "red", "green", "blue", "white", "segment 1", "segment 2", "segment 3", "segment 4"]) {
        await page.locator(`[data-step="${key}"]`).waitFor();
        const { pattern, level, colour } = last(mock, "POST /api/v1/pattern");
        seen.push([pattern.kind, pattern.segment ?? null, level, colour].join(" "));
        if (!key.startsWith("segment")) await page.locator('[data-mean="true"]').waitFor();
        if (key === "red" || key === "segment 3") await check.fine(page, `bench ${key} ${size}`);
        await button(page, key === "segment 3" ? "Not right" : "Right").click();
      }
      assert.deepEqual(seen, [
        "panel  0 white", "panel  128 red", "panel  128 green", "panel  128 blue", "panel  128 white",
        "segment 1 128 white", "segment 2 128 white", "segment 3 128 white", "segment 4 128 white",
      ]);
      // The light ends with the last step, and what was not right is proposed as a fail.
      await page.getByText("Signature: dark").waitFor();
      assert.equal(mock.orders.state(), null);
      assert.equal(await page.getByRole("radio", { name: "Fail" }).isChecked(), true);
      await page.getByLabel("Who are you?").fill("Ida");
      await check.fine(page, `bench result ${size}`);
      await button(page, "Write it into the book").click();
      await page.getByText("M017 failed; it stands in the book.").waitFor();
      const { passed, note, who, signature } = last(mock, "POST /api/v1/book/panels/M017/bench");
      assert.deepEqual({ passed, note, who, keys: Object.keys(signature) }, { passed: false, note: "Not right: segment 3.", who: "Ida", keys: ["dark_a", "red_a", "green_a", "blue_a", "white_a"] });
      // The sensor sees the supply, so its mean is what that drew in the light of the step.
      assert.ok(signature.white_a > signature.red_a && signature.red_a > signature.dark_a && signature.dark_a > 0, JSON.stringify(signature));
    }));

  test(`the rebuild at ${size} size`, () =>
    visit({ size }, async (page, mock, wrong) => {
      await come(page, "rebuild", "Rebuild");
      await page.getByText("43 of 49 placed").waitFor();
      const file = card(page, "Floor file as placed");
      await file.getByText("nothing is placed yet at").waitFor();
      await card(page, "Checklist").getByText("6 positions without a panel").waitFor();
      await card(page, "Checklist").getByText("was white 1.43 A, is white 0.98 A").waitFor();
      await page.getByLabel("Who are you?").fill("Ida");
      await page.getByLabel("1. Serial").fill("M049");
      await page.getByText("M049 is not placed yet.").waitFor();
      await check.fine(page, `rebuild ${size}`);
      await panelOn(page, "G6").click();
      await page.getByText("M049 is placed at G6.").waitFor();
      assert.deepEqual(last(mock, "POST /api/v1/book/placed"), { serial: "M049", position: "G6", who: "Ida" });
      assert.equal(await page.getByLabel("1. Serial").inputValue(), "");
      // Where one lies already, it is asked first.
      await page.getByLabel("1. Serial").fill("M047");
      const sent = mock.orders.requests.length;
      await panelOn(page, "G6").click();
      await page.getByText("At G6 lies M049.").waitFor();
      assert.equal(mock.orders.requests.length, sent);
      await button(page, "Put M047 there instead").click();
      await page.getByText("M047 is placed at G6.").waitFor();
      // The rest of them, then the file is there by itself.
      for (const serial of ["M044", "M045", "M046", "M048", "M049"]) {
        const [position] = mock.model.floor.panels.map((panel) => panel.position).filter((one) => !mock.orders.book.placed.has(one));
        await page.getByLabel("1. Serial").fill(serial);
        await panelOn(page, position).click();
        await page.getByText(`${serial} is placed at ${position}.`).waitFor();
      }
      await file.locator('[data-line="added"]').getByText('G6 = "M047"').waitFor();
      await page.getByRole("link", { name: "Download the floor file" }).waitFor();
      await panelOn(page, "A1").click();
      await button(page, "Take M001 off").click();
      await page.getByText("M001 is no longer at A1.").waitFor();
      assert.ok(mock.orders.requests.includes("DELETE /api/v1/book/placed/A1"));
      await file.getByText("nothing is placed yet at A1.").waitFor();
      await check.fine(page, `rebuild after ${size}`);
      meant(wrong);
    }));

  test(`labels at ${size} size`, () =>
    visit({ size }, async (page, mock) => {
      await come(page, "labels/M017", "Labels");
      const sheet = page.getByRole("list", { name: "Sheet of labels" });
      assert.equal(await sheet.getByRole("listitem").count(), 1);
      // The mock is only reached from this very machine, which a phone is not.
      await page.getByText("A phone can't open this").waitFor();
      await page.getByLabel("Address that the code leads to").fill("somewhere");
      await page.getByText("This is no address").waitFor();
      await page.getByLabel("Address that the code leads to").fill("http://192.168.1.20:8080/");
      await page.getByText("A phone can't open this").waitFor({ state: "detached" });
      const source = await sheet.getByRole("img").first().getAttribute("src");
      assert.equal(source, "/api/v1/labels/M017.svg?at=http%3A%2F%2F192.168.1.20%3A8080");
      await page.getByLabel("Serials").fill("M017, M018 NEW7");
      assert.equal(await sheet.getByRole("listitem").count(), 3);
      await page.getByLabel("Size of the code").selectOption("50");
      await page.waitForFunction(() => [...document.images].every((image) => image.complete && image.naturalWidth > 0));
      const wide = await sheet.getByRole("img").first().evaluate((image) => image.getBoundingClientRect().width);
      assert.ok(Math.abs(wide - (50 * 96) / 25.4) < 1, `${wide} pixels are not 50 mm`);
      await check.fine(page, `labels ${size}`);
      await page.emulateMedia({ media: "print" });
      assert.equal(await page.getByLabel("Serials").isVisible(), false);
      assert.equal(await sheet.isVisible(), true);
      assert.deepEqual(mock.orders.requests, []);
    }));
}

test("a serial that nobody knows gets help", () =>
  visit({ size: "phone" }, async (page, _, wrong) => {
    await come(page, "panel/X%2099", "Panel");
    await page.getByText("The book knows no panel X 99").waitFor();
    await page.getByRole("link", { name: "Test it on the bench" }).waitFor();
    assert.equal(await page.getByRole("link", { name: "Place it on the floor" }).getAttribute("href"), "#/rebuild/X%2099");
    await check.fine(page, "panel unknown");
    meant(wrong);
  }));

test("from one panel to another nothing of the first is shown", () =>
  visit({}, async (page) => {
    await come(page, "panel/M017", "Panel");
    await card(page, "Notes").getByText("New plug on the supply side.").waitFor();
    await page.route("**/api/v1/book/panels/M005", () => {});
    await page.evaluate(() => (location.hash = "#/panel/M005"));
    await page.getByRole("heading", { name: "Panel M005" }).waitFor();
    assert.equal(await page.getByText("New plug on the supply side.").count(), 0);
  }));

test("a blank book says what to do", () =>
  visit({ size: "phone", mock: { health: { blank: true, known: "nothing" } } }, async (page) => {
    await come(page, "panels", "Panels");
    await page.getByText("No panel has a serial yet").waitFor();
    await check.fine(page, "panels empty");
    await come(page, "rebuild", "Rebuild");
    await page.getByText("0 of 49 placed").waitFor();
    await page.getByText("nothing would change").waitFor();
    await check.fine(page, "rebuild empty");
  }));

test("a book that can't be read says why, and what is seen is kept", () =>
  visit({}, async (page, _, wrong) => {
    const answer = { status: 503, contentType: "application/json", body: JSON.stringify({ error: "book_damaged", message: "the book can't be read: run litfloor book check" }) };
    await page.route("**/api/v1/book/**", (route) => route.fulfill(answer));
    await come(page, "panels", "Panels");
    await page.getByText("The book can't be read: run litfloor book check").waitFor();
    await come(page, "rebuild", "Rebuild");
    await page.getByText("The book can't be read").waitFor();
    await come(page, "faults", "Faults");
    await page.locator('[data-fault="C4/2-3/supply_open"]').waitFor();
    meant(wrong);
  }));

test("a floor file that can't be written yet says which positions lack a panel and what to do, and no longer what was before", () =>
  visit({ size: "phone", mock: { health: { blank: true, known: "nothing" } } }, async (page, mock, wrong) => {
    await come(page, "rebuild", "Rebuild");
    const file = card(page, "Floor file as placed");
    await file.getByText("nothing would change").waitFor();
    await page.getByLabel("Who are you?").fill("Ida");
    await page.getByLabel("1. Serial").fill("M049");
    await panelOn(page, "A1").click();
    await page.getByText("M049 is placed at A1.").waitFor();
    await file.getByText("It can't be written yet").waitFor();
    const run = mock.model.floor.runs.find(({ panels }) => panels.includes("A1"));
    const lacking = run.panels.filter((position) => position !== "A1").join(", ");
    await file.getByText(`nothing is placed yet at ${lacking}.`).waitFor();
    await file.getByText("Place a panel at each of these positions").waitFor();
    assert.equal(await page.getByText("nothing would change").count(), 0);
    assert.equal(await page.getByRole("link", { name: "Download the floor file" }).count(), 0);
    meant(wrong);
    await check.fine(page, "rebuild partly");
    // Taken off again, there is nothing to write.
    await panelOn(page, "A1").click();
    await button(page, "Take M049 off").click();
    await file.getByText("nothing would change").waitFor();
  }));

test("who may only look can place, note and bench nothing", () =>
  visit({ size: "phone", mock: { operator: { passphrase: "correct horse", here: false } } }, async (page, mock, wrong) => {
    await come(page, "rebuild", "Rebuild");
    await page.getByLabel("Who are you?").fill("Ida");
    await page.getByLabel("1. Serial").fill("M049");
    await page.getByText("Sign in with the operator's passphrase").waitFor();
    await panelOn(page, "G6").click();
    await come(page, "bench/M017", "Bench");
    const { position } = mock.model.floor.panels.find(({ serial }) => serial === "M017");
    assert.equal(await page.getByLabel("The panel hangs where the floor file has").inputValue(), position);
    await button(page, "Begin the test").click({ force: true });
    await come(page, "panel/M017", "Panel");
    await button(page, "Light it").click({ force: true });
    assert.deepEqual(mock.orders.requests, []);
    await check.fine(page, "panel looking only");
    meant(wrong);
  }));

test("the light of a bench test that was stopped elsewhere is lit again before anything counts", () =>
  visit({ mock: quick }, async (page, mock) => {
    await come(page, "bench/M017", "Bench");
    await button(page, "Begin the test").click();
    await page.locator('[data-step="dark"]').waitFor();
    await page.locator('[data-mean="true"]').waitFor();
    await page.getByRole("region", { name: "Test pattern" }).getByRole("button", { name: "Stop" }).click();
    await page.getByText("The light of this step is not on now").waitFor();
    await button(page, "Right").click({ force: true });
    assert.equal(await page.locator('[data-step="dark"]').count(), 1);
    await button(page, "Light it again").click();
    await page.getByText("The light of this step is not on now").waitFor({ state: "detached" });
    // Leaving the page ends the light.
    await come(page, "panels", "Panels");
    await page.locator("main").getByText("49 panels").waitFor();
    while (mock.orders.state() !== null) await page.evaluate(() => new Promise((resolve) => requestAnimationFrame(resolve)));
  }));

test("without a sensor the bench goes by eyes and leaves the rest of the floor alone", () =>
  visit({ mock: { model: stage(), change: (state) => ({ ...state, sensors: [] }) } }, async (page, mock) => {
    await come(page, "bench/M017", "Bench");
    await page.getByText("what is seen is recorded, but no signature").waitFor();
    await button(page, "Begin the test").click();
    await page.locator('[data-step="dark"]').waitFor();
    const { position } = mock.model.floor.panels.find(({ serial }) => serial === "M017");
    assert.deepEqual(last(mock, "POST /api/v1/pattern").cover, { panels: [position] });
  }));
