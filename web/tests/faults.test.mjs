/** The faults page: the list as one walks it, reports from the plan, the book's steps, light, paper; empty, lost and forbidden. */
import assert from "node:assert/strict";
import { test } from "node:test";
import * as check from "./browser.mjs";
import { wide } from "./mock-floor.mjs";
import { come, goto, meant, visit } from "./visit.mjs";

const PASSPHRASE = "correct horse";
const button = (at, name) => at.getByRole("button", { name, exact: true });
const row = (page, key) => page.locator(`[data-fault="${key}"]`);
const panelOn = (page, position) => page.locator(`[data-position="${position}"]`);
const last = (mock, name) => mock.orders.bodies[mock.orders.requests.lastIndexOf(name)];

for (const size of Object.keys(check.SIZES)) {
  test(`a fault from the list to its repair at ${size} size`, () =>
    visit({ size }, async (page, mock) => {
      const fine = (what) => check.fine(page, `faults ${what} ${size}`);
      // The way to it is in the navigation.
      await page.getByRole("link", { name: "Faults", exact: true }).click();
      const list = page.getByRole("list", { name: "Faults in walking order" });
      await list.waitFor();
      assert.deepEqual(await list.locator("> li").evaluateAll((items) => items.map((item) => item.dataset.fault)), ["B1/3/segment_weak", "C4/2-3/supply_open", "G2/data_open", "node/right wing/restarted"]);
      const open = row(page, "C4/2-3/supply_open");
      const words = await open.innerText();
      for (const word of ["C4, joint between segments 2 and 3, supply side", "Open supply joint", "Segments 3 and 4 are dark.", "certain, over 99 %"]) assert.ok(words.includes(word), `${word}: ${words}`);
      assert.match(await row(page, "G2/data_open").innerText(), /possible, 61 %[\s\S]*Or it is: the first chip of G2 is dead; its port is switched off\./);
      await fine("list");

      // Evidence has its age; what people said is withdrawn, what was measured is not.
      await open.getByText("Why: 2 pieces of evidence").click();
      const piece = open.getByRole("listitem").filter({ hasText: "Somebody says" });
      assert.match(await piece.innerText(), /Report, \d+ min ago/);
      assert.equal(await button(open, "Withdraw").count(), 1);
      await fine("evidence");
      await button(open, "Withdraw").click();
      await open.getByText("Why: 1 piece of evidence").waitFor();
      assert.ok(mock.orders.requests.includes("DELETE /api/v1/evidence/3"));

      // Its light, and the end of it.
      await button(open, "Light this one").click();
      await button(open, "End its light").waitFor();
      const order = last(mock, "POST /api/v1/pattern");
      assert.deepEqual({ pattern: order.pattern, cover: order.cover, ends: typeof order.ends_with }, { pattern: { kind: "panel", position: "C4" }, cover: { panels: ["C4"] }, ends: "string" });
      await fine("lit");
      await button(open, "End its light").click();
      await button(open, "Light this one").waitFor();

      // The book's steps need somebody.
      await button(open, "Begin the repair").click({ force: true });
      assert.equal(mock.orders.requests.filter((name) => name.includes("/book/")).length, 0);
      await page.getByLabel("Who are you?").first().fill("Ida");
      await button(open, "Begin the repair").click();
      await open.locator('[data-stage="being_repaired"]').waitFor();
      await open.getByText("Steps and note", { exact: true }).click();
      await open.getByLabel("Note (if you like)").fill("cold joint, soldered again");
      await button(open, "It is repaired").click();
      await open.locator('[data-stage="repaired"]').waitFor();
      const { id } = mock.orders.book.faults.find((fault) => fault.key === "C4/2-3/supply_open");
      assert.deepEqual(last(mock, `POST /api/v1/book/faults/${id}`), { state: "repaired", who: "Ida", note: "cold joint, soldered again" });
      await open.getByRole("link", { name: "Prove it by a survey of C4" }).waitFor();
      await fine("repaired");
      await page.reload();
      await list.waitFor();
      assert.equal(await page.getByLabel("Who are you?").first().inputValue(), "Ida");
    }));

  test(`a report from the plan at ${size} size`, () =>
    visit({ size }, async (page, mock) => {
      await goto(page, "faults");
      // Marks are letters with a word, not colours alone.
      assert.match(await panelOn(page, "C4").textContent(), /^C4D dark$/);
      assert.equal(await panelOn(page, "C4").locator("[data-mark]").innerText(), "D");
      assert.equal(await panelOn(page, "I2").locator("[data-mark]").innerText(), "X");
      await panelOn(page, "A1").click();
      const sheet = page.locator('[data-sheet="A1"]');
      await sheet.getByText("good").first().waitFor();
      await sheet.getByRole("radio", { name: /Segment 2/ }).check();
      await button(sheet, "Flickers").click();
      await sheet.getByText("Reported: A1, segment 2 – flickers.").waitFor();
      assert.deepEqual(last(mock, "POST /api/v1/reports"), { position: "A1", segment: 2, says: "flickers" });
      await button(sheet, "Light the segment").click();
      await button(sheet, "End its light").waitFor();
      assert.deepEqual(last(mock, "POST /api/v1/pattern").pattern, { kind: "segment", position: "A1", segment: 2 });
      await page.locator('[data-fault="A1, segment 2/reported"]').waitFor();
      await check.fine(page, `faults sheet ${size}`);
      await sheet.getByRole("button", { name: "Close" }).click();
      await sheet.waitFor({ state: "detached" });
    }));
}

test("the plan and the sheet are worked with keys alone", () =>
  visit({}, async (page) => {
    await goto(page, "faults");
    await panelOn(page, "A1").focus();
    await page.keyboard.press("ArrowRight");
    await page.keyboard.press("ArrowDown");
    await page.keyboard.press("Enter");
    await page.locator('[data-sheet="B2"]').waitFor();
    await page.getByRole("heading", { name: "Panel B2" }).and(page.locator(":focus")).waitFor();
  }));

test("where nothing was looked at, nothing is said to be well", () =>
  visit({ size: "phone", mock: { health: { known: "nothing", blank: true } } }, async (page) => {
    await goto(page, "faults");
    await page.getByText("Nothing is known to be dead").waitFor();
    await page.locator("[data-known]").getByText("That does not mean that all is well").waitFor();
    await page.getByRole("link", { name: "Make a survey" }).waitFor();
    await page.getByText("None yet. A fault closes when").waitFor();
    await check.fine(page, "faults empty unknown phone");
  }));

test("after a good survey it says what was found good, and when", () =>
  visit({ size: "phone", mock: { health: { known: "good", blank: true } } }, async (page) => {
    await goto(page, "faults");
    await page.locator("[data-known]").getByText(/All 196 segments were found good, looked at .* or later\./).waitFor();
    await check.fine(page, "faults empty good phone");
  }));

test("the walking list on paper is black on white, with boxes", () =>
  visit({ theme: "dark" }, async (page) => {
    await goto(page, "faults");
    await page.getByRole("list", { name: "Faults in walking order" }).waitFor();
    await page.emulateMedia({ media: "print" });
    const paper = page.locator("[data-print]");
    assert.equal(await paper.isVisible(), true);
    assert.equal(await page.getByRole("list", { name: "Faults in walking order" }).isVisible(), false);
    assert.equal(await page.getByRole("navigation").first().isVisible(), false);
    assert.equal(await page.evaluate(() => getComputedStyle(document.body).backgroundColor), "rgb(255, 255, 255)");
    // Four that are seen now, and one that was written by hand.
    assert.equal(await paper.locator("tbody tr").count(), 5);
    assert.match(await paper.innerText(), /The plate is cracked/);
    await page.setViewportSize({ width: 794, height: 1123 });
    await check.shoot(page, "faults-print");
  }));

test("a fault is written by hand, by position or by serial", () =>
  visit({}, async (page, mock) => {
    await goto(page, "faults");
    await page.getByText("By hand: a cracked plate").click();
    const card = page.getByRole("region", { name: "Write a fault into the book" });
    await card.getByLabel("Panel", { exact: true }).fill("b2");
    await card.getByText("The panel at B2.").waitFor();
    await card.getByLabel("What is wrong").fill("A screw is missing.");
    await card.getByLabel("Who are you?").fill("Noor");
    await button(card, "Write it down").click();
    await page.getByRole("region", { name: "In the book, not seen now" }).getByText("A screw is missing.").waitFor();
    assert.deepEqual(last(mock, "POST /api/v1/book/faults"), { position: "B2", text: "A screw is missing.", who: "Noor" });
    await page.getByText("H6, segment 1 – proved good by a survey").click();
    await page.getByText("cold joint, soldered again").waitFor();
    await check.fine(page, "faults written");
  }));

test("who may only look can report, step and light nothing", () =>
  visit({ size: "phone", mock: { operator: { passphrase: PASSPHRASE, here: false } } }, async (page, mock) => {
    await goto(page, "faults");
    const open = row(page, "C4/2-3/supply_open");
    await page.getByText("Sign in with the operator's passphrase").first().waitFor();
    for (const name of ["Light this one", "Begin the repair"]) await button(open, name).click({ force: true });
    await panelOn(page, "A1").click();
    await button(page.locator('[data-sheet="A1"]'), "Dark").click({ force: true });
    assert.deepEqual(mock.orders.requests, []);
    await check.fine(page, "faults looking only phone");
  }));

test("a change that is refused or not heard is told beside its button", () =>
  visit({}, async (page, mock, wrong) => {
    await goto(page, "faults");
    const open = row(page, "C4/2-3/supply_open");
    await page.getByLabel("Who are you?").first().fill("Ida");
    mock.orders.drop = true;
    await button(open, "Begin the repair").click();
    await open.getByRole("alert").getByText("Whether it was done is not known").waitFor();
    mock.orders.drop = false;
    await open.getByText("Why: 2 pieces of evidence").click();
    mock.orders.health.faults().find((fault) => fault.key === "C4/2-3/supply_open").evidence[1].can_withdraw = false;
    await button(open, "Withdraw").click();
    await open.getByRole("alert").getByText("This evidence is no longer there").waitFor();
    meant(wrong);
  }));

test("what changes elsewhere comes by itself, and old news is said to be old", () =>
  visit({}, async (page, mock, wrong) => {
    await goto(page, "faults");
    const open = row(page, "C4/2-3/supply_open");
    await open.waitFor();
    mock.orders.book.faults.find((fault) => fault.key === "C4/2-3/supply_open").state = "being_repaired";
    mock.orders.health.changed();
    await open.locator('[data-stage="being_repaired"]').waitFor();
    await page.route("**/api/v1/faults", (route) => route.abort());
    mock.orders.health.changed();
    await page.getByText("what stands here is what was heard last").waitFor();
    await page.unroute("**/api/v1/faults");
    mock.orders.health.changed();
    await page.getByText("what stands here is what was heard last").waitFor({ state: "detached" });
    meant(wrong);
  }));

test("a daemon that does not answer at first is asked again", () =>
  visit({ size: "phone" }, async (page, mock, wrong) => {
    await page.route("**/api/v1/faults", (route) => route.abort());
    await come(page, "faults", "Faults");
    await page.getByText("No answer yet").waitFor();
    await check.fine(page, "faults unheard phone");
    await page.unroute("**/api/v1/faults");
    mock.orders.health.changed();
    await row(page, "C4/2-3/supply_open").waitFor();
    meant(wrong);
  }));

test("hundreds of panels can still be looked through", () =>
  visit({ size: "phone", mock: { model: wide() } }, async (page) => {
    await goto(page, "faults");
    await panelOn(page, "S13").waitFor();
    await panelOn(page, "S13").scrollIntoViewIfNeeded();
    await panelOn(page, "S13").click();
    await page.locator('[data-sheet="S13"]').waitFor();
    await check.fine(page, "faults wide phone");
  }));
