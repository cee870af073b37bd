/** Who may change something, and test patterns: the test page, the banner, signing in, a network that fails. */
import assert from "node:assert/strict";
import { test } from "node:test";
import * as check from "./browser.mjs";
import { corner, stage } from "./mock-floor.mjs";
import { browser, goto, meant, visit } from "./visit.mjs";

const PASSPHRASE = "correct horse";
const far = { operator: { passphrase: PASSPHRASE, here: false } };

const button = (page, name) => page.getByRole("button", { name, exact: true });
const dialog = (page) => page.getByRole("dialog");
const marked = (page, plan) => page.locator(`[data-plan="${plan}"] [data-marked="true"]`).evaluateAll((all) => all.map((e) => e.dataset.position));
const posts = (mock, path) => mock.orders.requests.filter((name) => name === `POST ${path}`).length;

async function signIn(page) {
  await button(page, "Sign in").first().click();
  await dialog(page).getByLabel("Passphrase", { exact: true }).fill(PASSPHRASE);
  await page.keyboard.press("Enter");
  await dialog(page).waitFor({ state: "detached" });
}

const pick = (page, name) => page.getByRole("radio", { name, exact: true }).check();

for (const size of Object.keys(check.SIZES)) {
  test(`signing in, a walk and its banner at ${size} size`, () =>
    visit({ size, mock: { ...far, model: corner() } }, async (page) => {
      const fine = (what) => check.fine(page, `control ${what} ${size}`);
      await goto(page, "test");
      await page.getByText("You may look. Sign in with the operator's passphrase").waitFor();
      await fine("looking");
      await button(page, "Sign in").first().click();
      await fine("dialog");
      await page.keyboard.press("Escape");
      await signIn(page);
      await pick(page, "Walk");
      await button(page, "Start").click();
      await button(page, "Next").click();
      await page.getByText("Step 2 of 17, stays until you step").waitFor();
      await fine("walk");
      for (const name of check.PAGES) {
        await goto(page, name);
        await page.getByRole("region", { name: "Test pattern" }).getByText(/\d:\d\d left/).waitFor();
        await fine(`banner ${name}`);
      }
      await page.getByRole("region", { name: "Test pattern" }).getByRole("button", { name: "Stop" }).click();
      await page.getByRole("region", { name: "Test pattern" }).waitFor({ state: "detached" });
    }));
}

test("a walk is stepped both ways, and the plan marks what is lit", () =>
  visit({ size: "phone" }, async (page, mock) => {
    await goto(page, "test");
    await pick(page, "Walk");
    await page.getByLabel("Along", { exact: true }).selectOption("1");
    await button(page, "Start").click();
    const [first, second] = mock.model.floor.runs[1].panels;
    await page.getByText(/Step 1 of \d+/).waitFor();
    assert.deepEqual(await marked(page, "lit"), [first]);
    // Start is far below: the page leads to what was started.
    await page.waitForFunction(() => window.scrollY === 0 && document.activeElement?.id === "running");
    await button(page, "Next").click();
    await page.getByText(/Step 2 of/).waitFor();
    assert.deepEqual(await marked(page, "lit"), [second]);
    await button(page, "Back").click();
    await page.getByText(/Step 1 of/).waitFor();
    assert.deepEqual(await marked(page, "lit"), [first]);
    // It goes on from any panel of the run, tapped or chosen, and from no other.
    const { panels } = mock.model.floor.runs[1];
    const plan = page.locator("[data-plan=lit]");
    await plan.locator(`[data-position="${panels[3]}"]`).click();
    await page.getByText(/Step 4 of/).waitFor();
    assert.deepEqual(await marked(page, "lit"), [panels[3]]);
    await plan.locator(`[data-position="${mock.model.floor.runs[0].panels[0]}"]`).click();
    await page.getByLabel("Go on from").selectOption(panels[2]);
    await page.getByText(/Step 3 of/).waitFor();
    assert.deepEqual(mock.orders.state().lit, [panels[2]]);
    assert.equal(mock.orders.requests.filter((request) => request.endsWith("/pattern/step")).length, 4);
    await check.noSidewaysScroll(page, "a walk");
    await button(page, "Stop the pattern").click();
    await button(page, "Start").waitFor();
    assert.equal(mock.orders.state(), null);
  }));

test("of many lit panels the picture tells which", () =>
  visit({ mock: { picture: () => new Uint8Array(49 * 44 * 3) } }, async (page, mock) => {
    await goto(page, "test");
    await pick(page, "Node");
    await page.getByLabel("Node").last().selectOption("right wing");
    await button(page, "Start").click();
    const wing = mock.model.floor.panels.filter((p) => p.node === "right wing").map((p) => p.position);
    await page.waitForFunction((count) => document.querySelectorAll('[data-plan="lit"] [data-marked="true"]').length === count, wing.length);
    assert.deepEqual(await marked(page, "lit"), wing);
  }));

test("what is chosen is what is asked for, by finger and by keyboard", () =>
  visit({ size: "phone" }, async (page) => {
    await goto(page, "test");
    await page.locator('[data-plan="chosen"] [data-position="C4"]').click();
    assert.equal(await page.getByLabel("Panel", { exact: true }).last().inputValue(), "C4");
    await pick(page, "Chosen panels");
    await page.getByText("Choose at least one panel that the pattern covers, or the whole floor.").waitFor();
    await page.locator('[data-plan="chosen"]').last().locator('[data-position="B4"]').click();
    const field = page.getByLabel("Panels", { exact: true });
    assert.equal(await field.inputValue(), "B4");
    await field.fill("b4, c4, z9");
    await page.getByText("2 panels chosen; the floor has no Z9.").waitFor();
    await page.getByLabel("Level", { exact: true }).focus();
    await page.keyboard.press("End");
    await page.getByLabel("Colour", { exact: true }).selectOption("magenta");
    await page.getByLabel("Ends after", { exact: true }).selectOption("10");
    await page.getByLabel("End when this page goes away").uncheck();
    const sent = page.waitForRequest((request) => request.method() === "POST");
    await button(page, "Start").focus();
    await page.keyboard.press("Enter");
    assert.deepEqual((await sent).postDataJSON(), {
      pattern: { kind: "panel", position: "C4" }, cover: { panels: ["B4", "C4"] }, level: 255, colour: "magenta", lasts_s: 600,
    });
    await page.getByText("2 of 49 panels: the others show the console's picture").waitFor();
  }));

test("a wrong passphrase is told in the daemon's words; signed in, one may sign out", () =>
  visit({ mock: far }, async (page, mock, wrong) => {
    await check.ready(page, "floor");
    await button(page, "Sign in").click();
    const field = dialog(page).getByLabel("Passphrase", { exact: true });
    assert.ok(await field.evaluate((e) => e === document.activeElement), "the field has the focus");
    await field.fill("battery staple");
    await page.keyboard.press("Enter");
    await dialog(page).getByRole("alert").getByText("This is not the operator's passphrase.").waitFor();
    await field.fill(PASSPHRASE);
    await page.keyboard.press("Enter");
    await dialog(page).waitFor({ state: "detached" });
    const opener = button(page, "Signed in");
    assert.ok(await page.evaluate(() => !document.cookie), "no script sees the token");
    await opener.click();
    await check.noViolations(page, "signed in");
    await check.shoot(page, "control-signed-in");
    await button(page, "Sign out").click();
    await dialog(page).getByLabel("Passphrase", { exact: true }).waitFor();
    await page.keyboard.press("Escape");
    await button(page, "Sign in").waitFor();
    meant(wrong);
  }));

test("the first passphrase is set from this machine, and a short one is refused", () =>
  visit({ size: "phone" }, async (page, mock, wrong) => {
    await check.ready(page, "floor");
    await button(page, "Control").click();
    await dialog(page).getByText("on the machine that litfloor runs on").waitFor();
    await check.noViolations(page, "first passphrase");
    await check.shoot(page, "control-first-passphrase");
    await dialog(page).getByLabel("New passphrase").fill("short");
    await button(page, "Set the passphrase").click();
    await dialog(page).getByRole("alert").getByText("A passphrase has at least 8 characters.").waitFor();
    await dialog(page).getByLabel("New passphrase").fill("battery staple");
    await button(page, "Set the passphrase").click();
    await button(page, "Signed in").waitFor();
    meant(wrong);
  }));

test("from elsewhere, without a passphrase, one may look and is told why no more", () =>
  visit({ size: "phone", mock: { operator: { here: false } } }, async (page, mock) => {
    await goto(page, "test");
    await page.getByText("changes are taken only from the machine that litfloor runs on").waitFor();
    const start = button(page, "Start");
    assert.equal(await start.getAttribute("aria-disabled"), "true");
    // It can't be pressed, which the tool that clicks would wait for.
    await start.click({ force: true });
    await start.focus();
    await page.keyboard.press("Enter");
    assert.deepEqual(mock.orders.requests, []);
  }));

test("who may only look sees the banner, and how to stop it", () =>
  visit({ mock: far }, async (page, mock) => {
    await check.ready(page, "floor");
    const other = await check.open(browser, `${mock.url}/#/test`, { size: "phone" });
    await signIn(other.page);
    await pick(other.page, "Row");
    await button(other.page, "Start").click();
    const banner = page.getByRole("region", { name: "Test pattern" });
    await banner.getByText("Test pattern: Row 1").waitFor();
    await page.getByRole("status").getByText("A test pattern is on: Row").waitFor();
    assert.equal(await button(banner, "Stop").count(), 0);
    await button(banner, "Sign in to stop it").click();
    await dialog(page).waitFor();
    await page.keyboard.press("Escape");
    // Its page goes away, and the pattern with it.
    await other.close();
    await banner.waitFor({ state: "detached" });
  }));

test("a blink of the network ends nothing, and the page is known again", () =>
  visit({}, async (page, mock, wrong) => {
    await goto(page, "test");
    await button(page, "Start").click();
    await page.getByText("On the floor now").waitFor();
    assert.equal(mock.orders.state().ends_with_owner, true);
    const decisions = [];
    mock.orders.grace = (decide) => decisions.push(decide);
    const { came } = mock.orders;
    const back = new Promise((resolve) => {
      mock.orders.came = (socket, said) => {
        const id = came(socket, said);
        resolve([said, id]);
        return id;
      };
    });
    mock.cut();
    const [said, id] = await back;
    assert.ok(said !== "" && said === id, "it says who it was, and is that again");
    assert.equal(decisions.length, 1);
    decisions.forEach((decide) => decide());
    assert.ok(mock.orders.state(), "it goes on");
    meant(wrong);
  }));

test("while an answer is waited for the button says so, and a second press asks nothing", () =>
  visit({ size: "phone" }, async (page, mock) => {
    await goto(page, "test");
    let release;
    mock.orders.hold = new Promise((resolve) => {
      release = resolve;
    });
    const start = button(page, "Start");
    await start.click();
    const waiting = button(page, "Starting…");
    await waiting.click({ force: true });
    await page.keyboard.press("Enter");
    assert.equal(await waiting.getAttribute("aria-disabled"), "true");
    assert.ok(await waiting.evaluate((e) => e === document.activeElement), "it keeps the focus");
    release();
    await page.getByText("On the floor now").waitFor();
    assert.equal(posts(mock, "/api/v1/pattern"), 1);
  }));

test("a request that is lost says so and what to do, and can be tried again", () =>
  visit({}, async (page, mock, wrong) => {
    await goto(page, "test");
    mock.orders.drop = true;
    await button(page, "Start").click();
    await page.getByRole("alert").getByText("litfloor can't be reached. Whether it was done is not known: look at the floor").waitFor();
    await check.noViolations(page, "lost request");
    await check.shoot(page, "control-lost-request");
    mock.orders.drop = false;
    await button(page, "Start").click();
    await page.getByText("On the floor now").waitFor();
    assert.equal(await page.getByRole("alert").count(), 0);
    meant(wrong);
  }));

test("a session that has ended is noticed when something is refused", () =>
  visit({ mock: far }, async (page, mock, wrong) => {
    await goto(page, "test");
    await signIn(page);
    mock.orders.forget();
    await button(page, "Start").click();
    await page.getByText("Sign in with the operator's passphrase first.").waitFor();
    await button(page, "Sign in").first().waitFor();
    assert.equal(await button(page, "Start").getAttribute("aria-disabled"), "true");
    meant(wrong);
  }));

test("a floor that is only watched can't be lit, and says why", () =>
  visit({ mock: { model: stage({ watchOnly: true }) } }, async (page) => {
    await goto(page, "test");
    await page.getByText("litfloor sends nothing and can light nothing").waitFor();
    assert.equal(await button(page, "Start").count(), 0);
  }));

for (const size of Object.keys(check.SIZES)) {
  test(`the floor file is read again, faulty and sound, at ${size} size`, () =>
    visit({ size }, async (page, mock, wrong) => {
      await goto(page, "patch");
      const card = page.getByRole("region", { name: "Floor file" });
      await card.getByText("shows/hall.toml").waitFor();
      mock.orders.faults = [
        { file: "shows/hall.toml", line: 12, column: 9, code: "unknown-name", message: 'no panel kind is called "sqare"', help: "did you mean `square`?" },
        { file: "shows/hall.toml", line: null, column: null, code: "missing-key", message: "`supply` is missing", help: "give every circuit one" },
      ];
      await card.getByRole("button", { name: "Read the file again" }).click();
      await card.getByText("not taken: 2 faults. The floor of before goes on.").waitFor();
      await card.getByText('Line 12: no panel kind is called "sqare".').waitFor();
      await check.fine(page, `control refused file ${size}`);
      mock.orders.faults = [];
      await card.getByRole("button", { name: "Read the file again" }).click();
      await card.getByText(`Taken: ${mock.model.floor.name}.`).waitFor();
      await card.getByText("Caution: amperes are computed, not measured.").waitFor();
      assert.equal(await card.getByText("not taken").count(), 0);
      assert.equal(posts(mock, "/api/v1/floor/reload"), 2);
      meant(wrong);
    }));
}

test("who may only look is asked to sign in before the file is read, and the demo has none", async () => {
  await visit({ mock: far }, async (page, mock) => {
    await goto(page, "patch");
    await button(page, "Read the file again").click();
    await dialog(page).waitFor();
    assert.equal(posts(mock, "/api/v1/floor/reload"), 0);
  });
  const model = stage();
  model.floor.simulated = true;
  await visit({ mock: { model } }, async (page, mock) => {
    await goto(page, "patch");
    await button(page, "Read the file again").click({ force: true });
    await page.getByText("The demo's floor is part of the program").waitFor();
    assert.equal(posts(mock, "/api/v1/floor/reload"), 0);
  });
});
