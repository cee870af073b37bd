/** The recorded history on the power page: ranges, totals, and what happens when it does not come. */
import assert from "node:assert/strict";
import { test } from "node:test";
import * as check from "./browser.mjs";
import { goto, visit } from "./visit.mjs";

const choose = (page, word) => page.getByRole("button", { name: word, exact: true }).click();
const figures = (page) => page.locator("figure", { hasText: "average" });

async function drawn(page) {
  await figures(page).locator("canvas").first().waitFor();
  return figures(page)
    .locator("canvas")
    .first()
    .evaluate((canvas) => {
      const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
      return data.filter((value, i) => i % 4 === 3 && value > 0).length;
    });
}

for (const size of Object.keys(check.SIZES)) {
  test(`an evening at ${size} size`, () =>
    visit({ size }, async (page) => {
      await goto(page, "power");
      await choose(page, "Evening (6 h)");
      assert.ok((await drawn(page)) > 500);
      await page.getByText("whole floor", { exact: true }).waitFor();
      await check.fine(page, `evening ${size}`);
    }));
}

test("at 360 pixels nothing is cut off", () =>
  visit({ size: "phone" }, async (page) => {
    await page.setViewportSize({ width: 360, height: 740 });
    await goto(page, "power");
    await choose(page, "Any range");
    await page.getByLabel("From", { exact: true }).waitFor();
    await page.getByText("whole floor", { exact: true }).waitFor();
    await check.noSidewaysScroll(page, "360 pixels");
    await check.largeTargets(page, "360 pixels");
    await check.shoot(page, "history-360");
  }));

test("any range is asked for as the fields say, and can be downloaded", () =>
  visit({}, async (page) => {
    await goto(page, "power");
    await choose(page, "Any range");
    await figures(page).first().waitFor();
    await page.getByLabel("From", { exact: true }).fill("2026-06-21T02:00");
    await page.getByLabel("To", { exact: true }).fill("2026-06-20T18:00");
    await page.getByRole("button", { name: "Show", exact: true }).click();
    await page.getByText("The range must begin before it ends.").waitFor();
    const asked = page.waitForRequest((request) => request.url().includes("/api/v1/history?"));
    await page.getByLabel("From", { exact: true }).fill("2026-06-20T14:00");
    await page.getByRole("button", { name: "Show", exact: true }).click();
    const query = new URL((await asked).url()).searchParams;
    assert.equal(Number(query.get("to")) - Number(query.get("from")), 4 * 3600);
    assert.match(query.get("element"), /^circuit:/);
    const href = await page.getByRole("link", { name: "Download as CSV" }).getAttribute("href");
    assert.equal(href, `/api/v1/history.csv?from=${query.get("from")}&to=${query.get("to")}`);
    await check.noViolations(page, "any range");
  }));

test("where nothing was recorded that is said", () =>
  visit({ mock: { recorded: { empty: true, in_file: false } } }, async (page) => {
    await goto(page, "power");
    await choose(page, "Day");
    await page.getByText("Nothing recorded here").waitFor();
    await page.getByText("No totals yet").waitFor();
    await page.getByText("kept in memory only").first().waitFor();
    await check.noViolations(page, "nothing recorded");
    await check.shoot(page, "history-empty");
  }));

test("a history that does not come is waited for, said, and asked for again", () => {
  let let_go;
  const recorded = { wait: new Promise((resolve) => (let_go = resolve)) };
  return visit({ mock: { recorded } }, async (page, _, wrong) => {
    await goto(page, "power");
    await choose(page, "Day");
    await page.getByText("Loading what was recorded…").waitFor();
    await page.getByText("Loading the totals…").waitFor();
    recorded.fail = 99;
    let_go();
    await page.getByText("The history did not come: the history can't be read: disk I/O error.").waitFor();
    await check.noViolations(page, "history failed");
    await check.shoot(page, "history-failed");
    recorded.fail = 0;
    await page.getByRole("button", { name: "Try again" }).first().click();
    await figures(page).first().waitFor();
    await page.getByText("whole floor", { exact: true }).waitFor();
    // The browser itself tells of each answer that is no good.
    for (let i = wrong.length - 1; i >= 0; i--) if (/503/.test(wrong[i])) wrong.splice(i, 1);
  });
});

test("a history that can't be kept is said", () =>
  visit({ mock: { recorded: { trouble: "the disk is full: make room where history.sqlite3 lies", lost_rows: 1200 } } }, async (page) => {
    await goto(page, "power");
    await page.getByText("The history can't be kept: the disk is full: make room where history.sqlite3 lies. It is tried again.").waitFor();
  }));
