/** The pages of a daemon that runs: where LITFLOOR_URL says, or a demo. One after the other, for its light is one. */
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import * as check from "./browser.mjs";
import { PROGRAM, startDemo } from "./demo.mjs";
import { UNLIT, browser, cell, everyPage } from "./visit.mjs";

let DAEMON = process.env.LITFLOOR_URL;
const where = { skip: !DAEMON && !PROGRAM && "neither LITFLOOR_URL nor LITFLOOR is set" };
if (!DAEMON && PROGRAM) {
  let demo;
  before(async () => {
    demo = await startDemo();
    DAEMON = demo.url;
  });
  after(() => demo?.stop());
}
const button = (page, name) => page.getByRole("button", { name, exact: true });
const marked = (page) => page.locator('[data-plan="lit"] [data-marked="true"]').evaluateAll((all) => all.map((e) => e.dataset.position));
const ask = async (path) => (await fetch(`${DAEMON}/api/v1/${path}`)).json();

for (const size of Object.keys(check.SIZES)) {
  test(`the daemon's own pages at ${size} size`, where, async () => {
    const visitor = await check.open(browser, DAEMON, { size });
    await check.ready(visitor.page, "floor");
    await visitor.page.waitForFunction((unlit) => {
      const canvas = document.querySelector('[data-layer="pixels"]');
      const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
      return data.some((value, i) => i % 4 !== 3 && value > unlit + 30);
    }, UNLIT);
    await everyPage(visitor.page, `daemon ${size}`);
    assert.deepEqual(visitor.wrong, []);
    await visitor.close();
  });
}

test("the daemon itself shows, steps and ends a pattern", where, async () => {
  const visitor = await check.open(browser, `${DAEMON}/#/test`, { size: "phone" });
  const { page } = visitor;
  await check.ready(page, "test");
  await page.getByRole("radio", { name: "Walk", exact: true }).check();
  await button(page, "Start").click();
  await page.getByText(/Step 1 of/).waitFor();
  const [first] = await marked(page);
  await button(page, "Next").click();
  await page.getByText(/Step 2 of/).waitFor();
  const { lit, step, ends_with_owner } = (await ask("state")).pattern;
  assert.deepEqual([await marked(page), step, ends_with_owner], [lit, 1, true]);
  assert.notDeepEqual(lit, [first]);
  await check.noViolations(page, "the daemon's walk");
  await check.noSidewaysScroll(page, "the daemon's walk");
  await check.shoot(page, "daemon-walk");
  await button(page, "Stop the pattern").click();
  await page.getByText("On the floor now").waitFor({ state: "detached" });
  assert.equal((await ask("state")).pattern, null);
  // Another one ends because its page goes away; another browser sees that.
  await button(page, "Start").click();
  const witness = await check.open(browser, DAEMON, {});
  const banner = witness.page.getByRole("region", { name: "Test pattern" });
  await banner.waitFor();
  assert.deepEqual(visitor.wrong, []);
  await visitor.close();
  await banner.waitFor({ state: "detached" });
  assert.deepEqual(witness.wrong, []);
  await witness.close();
});

test("the demo's own patch page shows what moves", where, async () => {
  const visitor = await check.open(browser, `${DAEMON}/#/patch`, { size: "phone" });
  const { page } = visitor;
  const reading = page.locator("#slot-reading");
  await check.ready(page, "patch");
  const [panel] = (await ask("floor")).panels;
  await page.fill("#patch-search", panel.position);
  await page.keyboard.press("Enter");
  await page.locator("form [role=status]").getByText(`Panel ${panel.position}`).waitFor();
  const { port_address, first_slot } = panel.source_spans[0];
  const { x, y } = await cell(page, port_address, first_slot);
  await page.mouse.click(x, y);
  await reading.getByText(`${panel.position}, pixel 1,`).waitFor();
  await reading.getByText(/level \d+/).waitFor();
  await page.locator("article").getByText(/[1-9]\d* moving/).first().waitFor();
  await page.getByText("no universe has any").waitFor();
  assert.deepEqual(visitor.wrong, []);
  await visitor.close();
});

test("the daemon itself asks, hears and ends a walk", where, async () => {
  const visitor = await check.open(browser, `${DAEMON}/#/stepping`, { size: "phone" });
  const { page } = visitor;
  const question = (number) => page.locator(`[data-question="${number}"]`).waitFor();
  await button(page, "Begin the walk").click();
  await question(0);
  await page.getByRole("region", { name: "Test pattern" }).waitFor();
  await check.noViolations(page, "the daemon's walk");
  await check.noSidewaysScroll(page, "the daemon's walk");
  await check.shoot(page, "daemon-stepping");
  await page.locator('[data-drawing="0"]').click();
  await question(1);
  await button(page, "Take the last answer back").click();
  await question(0);
  await button(page, "End the walk…").click();
  await page.getByRole("dialog").getByRole("button", { name: "End the walk", exact: true }).click();
  await button(page, "Begin the walk").waitFor();
  assert.equal((await ask("stepping")).walk, null);
  assert.deepEqual(visitor.wrong, []);
  await visitor.close();
});
