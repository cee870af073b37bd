/** The patch page: ribbons, the plan, the search, references and faults. */
import assert from "node:assert/strict";
import { test } from "node:test";
import * as check from "./browser.mjs";
import { stage, stillPicture, wide } from "./mock-floor.mjs";
import { cell, goto, visit } from "./visit.mjs";

/** Colours along the middle of a slot's cell, from its top to its foot. */
function column(page, name, slot) {
  return page.locator(`[data-ribbon="${name}"]`).evaluate((canvas, slot) => {
    const [columns, wide, left, top, step] = canvas.dataset.cell.split(" ").map(Number);
    const ratio = canvas.width / canvas.clientWidth;
    const x = Math.round((left + (((slot - 1) % columns) + 0.5) * wide) * ratio);
    const y = Math.round((top + Math.floor((slot - 1) / columns) * step) * ratio);
    const { data } = canvas.getContext("2d").getImageData(x, y, 1, Math.round(16 * ratio));
    return Array.from({ length: data.length / 4 }, (_, i) => data.slice(4 * i, 4 * i + 3).join());
  }, slot);
}

const reading = (page) => page.locator("#slot-reading");

/** Several faults at once, as the daemon tells them. */
const faults = (state) => ({
  ...state,
  universes: [
    ...state.universes.map((u, i) => {
      const arrival = (more) => ({ ...u, arrival: { ...u.arrival, ...more } });
      if (i === 1) return arrival({ contested_slots: 12 });
      if (i === 2) return { ...arrival({ short_by_slots: 30, cut_off: ["D2", "E2"], cut_off_panels: 2 }), slots: 480 };
      if (i === 3) return arrival({ offset_slots: 3 });
      if (i === 5) return { ...arrival({ missing_frames: null, moving_slots: 0 }), age_s: null, fps: 0, slots: 0, sources: [] };
      return u;
    }),
    { ...state.universes[0], port_address: "0:2:0", mapped: false, slots: 24, arrival: { ...state.universes[0].arrival, needs_slots: 0, stray_lit_slots: 20 } },
  ],
});
const faultySlots = (u) =>
  u.name === "0:0:5" ? { ...u, length: 0, age_ms: null } : u.name === "0:0:2" ? { ...u, length: 480 } : u;

for (const size of Object.keys(check.SIZES)) {
  test(`faults on the patch page at ${size} size`, () =>
    visit({ size, mock: { change: faults, changeSlots: faultySlots } }, async (page) => {
      await goto(page, "patch");
      for (const words of [
        "two sources fight over 12 slots",
        "ends 30 slots too early: D2, E2 get nothing, or not all",
        "its light lies 3 slots later than mapped",
        "no frame has come",
      ]) {
        await page.getByText(words).waitFor();
      }
      await page.getByRole("heading", { name: "Arrive, but are mapped to nothing" }).waitFor();
      await check.fine(page, `patch faults ${size}`);
      const all = await page.locator("[data-ribbon]").count();
      await page.getByRole("button", { name: "Only with trouble" }).click();
      await page.waitForFunction((all) => document.querySelectorAll("[data-ribbon]").length < all, all);
      assert.equal(await page.locator("[data-ribbon]").count(), 5);
    }));
}

test("a slot shows its pixel, and the plan shows its slots", () =>
  visit({}, async (page, { model }) => {
    await goto(page, "patch");
    const { x, y } = await cell(page, "0:0:0", 133);
    await page.mouse.move(x, y);
    // The second panel's first pixel: 44 pixels of three slots come before it.
    await reading(page).getByText("B1, pixel 1, red").waitFor();
    const pixel = model.floor.panels[1].first_pixel;
    assert.equal(await page.locator("[data-pixel]").getAttribute("data-pixel"), String(pixel));
    assert.equal(await page.locator("[data-chosen]").getAttribute("data-chosen"), "B1");

    // Back: a tap on another panel's place marks its slots.
    const f4 = model.floor.panels.find((p) => p.position === "F4");
    const plan = page.locator("[data-plan]");
    const at = await plan.evaluate((svg, p) => {
      const point = new DOMPoint(p.x_mm + 20, p.y_mm + 20).matrixTransform(svg.getScreenCTM());
      return { x: point.x, y: point.y };
    }, f4);
    await page.mouse.click(at.x, at.y);
    const { port_address, first_slot } = f4.source_spans[0];
    await reading(page).getByText(`${port_address}/${first_slot}`, { exact: true }).waitFor();
    await page.waitForFunction(
      ([name, slot]) => document.querySelector(`[data-ribbon="${name}"]`)?.dataset.slot === slot,
      [port_address, String(first_slot)],
    );
  }));

test("keys move from slot to slot", () =>
  visit({}, async (page) => {
    await goto(page, "patch");
    await page.locator('[data-ribbon="0:0:0"]').focus();
    await page.keyboard.press("ArrowRight");
    await reading(page).getByText("0:0:0/1", { exact: true }).waitFor();
    await page.keyboard.press("ArrowRight");
    await reading(page).getByText("A1, pixel 1, green").waitFor();
  }));

test("the search finds a panel, a slot, a serial and a node, and says what they are", () =>
  visit({ size: "phone" }, async (page) => {
    await goto(page, "patch");
    const told = page.locator("form [role=status]");
    const search = async (text, words) => {
      await page.fill("#patch-search", text);
      await page.keyboard.press("Enter");
      await told.getByText(words).waitFor();
    };
    await search("B1", "Panel B1, serial M002: 44 pixels, slots 0:0:0/133–264 from node left wing.");
    await search("0:0:0/134", "Slot 134 of 0:0:0 lights panel B1, pixel 1, green.");
    assert.equal(await page.locator("[data-pixel]").getAttribute("data-pixel"), "44");
    await search("0/512", "lights nothing: the file does not map it");
    await search("m003", "Panel C1");
    await search("right wing", "Node right wing drives");
    await search("nonsense", "Nothing is called “nonsense”.");
    // What is far down comes into sight.
    await search("0:0:11/3", "Slot 3 of 0:0:11 lights panel");
    await page.waitForFunction(() => {
      const { top, bottom } = document.querySelector('[data-ribbon="0:0:11"]').getBoundingClientRect();
      return bottom > 0 && top < window.innerHeight;
    });
    await check.shoot(page, "patch-found-phone");
  }));

test("moving, still, dark and missing slots look different, not by colour alone", () => {
  const levels = new Uint8Array(512);
  levels[0] = levels[1] = 200;
  const moving = Uint8Array.from({ length: 64 }, (_, i) => (i === 0 ? 1 : 0));
  const asked = stillPicture(stage());
  return visit({ mock: { picture: () => asked, changeSlots: (u) => ({ ...u, length: 20, levels, moving }) } }, async (page) => {
    await goto(page, "patch");
    await cell(page, "0:0:0", 1);
    await page.waitForFunction(() => {
      const canvas = document.querySelector('[data-ribbon="0:0:0"]');
      const [, , left, top] = canvas.dataset.cell.split(" ").map(Number);
      const ratio = canvas.width / canvas.clientWidth;
      const { data } = canvas.getContext("2d").getImageData(Math.round((left + 4) * ratio), Math.round((top + 14) * ratio), 1, 1);
      return data[1] > 90;
    });
    const [moves, still, dark] = await Promise.all([1, 2, 3].map((slot) => column(page, "0:0:0", slot)));
    const kinds = (colours) => new Set(colours.slice(1, -1)).size;
    // Ground, bar and a cap; ground and bar; ground alone.
    assert.ok(kinds(moves) >= 3, moves.join(" "));
    assert.ok(kinds(still) === 2, still.join(" "));
    assert.ok(kinds(dark) === 1, dark.join(" "));
    const missing = await Promise.all([25, 26, 27, 28].map((slot) => column(page, "0:0:0", slot)));
    assert.ok(missing.some((colours) => kinds(colours) > 1), "hatched");
  });
});

test("a reference says where it has landed", () => {
  const changeSlots = (u, wish) =>
    wish.reference === "first_pixels" ? { ...u, ...(u.name === "0:0:1" ? { verdict: 3, shift: -6 } : u.name === "0:0:2" ? { verdict: 4 } : {}) } : u;
  return visit({ size: "phone", mock: { changeSlots } }, async (page) => {
    await goto(page, "patch");
    await page.getByText("Check it with a reference").click();
    await page.getByLabel("Everything at full").check();
    await page.getByText("Everything at full is bright and draws the most current.").waitFor();
    await page.getByLabel("First pixel of every panel").check();
    for (const [name, words] of [
      ["0:0:0", "reference lies right"],
      ["0:0:1", "reference lies 6 slots earlier than mapped"],
      ["0:0:2", "reference incomplete, or no shift fits clearly"],
    ]) {
      await page.locator(`[data-ribbon="${name}"]`).scrollIntoViewIfNeeded();
      await page.locator(`article[aria-label="Universe ${name}"]`).getByText(words).waitFor();
    }
    await check.noViolations(page, "reference");
    await check.shoot(page, "patch-reference-phone");
  });
});

test("of many universes only those in sight are asked for", () => {
  const model = wide();
  const asked = stillPicture(model);
  const wishes = [];
  const mock = { model, picture: () => asked, changeSlots: (u, wish) => (wishes.push(wish.slots), u) };
  return visit({ mock }, async (page) => {
    await goto(page, "patch");
    const last = model.floor.universes.at(-1).port_address;
    assert.equal(await page.locator("[data-ribbon]").count(), 64);
    assert.ok(!wishes.flat().includes(last));
    const drawn = () => page.evaluate(() => [...document.querySelectorAll("[data-ribbon]")].filter((c) => c.width > 0).length);
    await page.locator(`[data-ribbon="${last}"]`).scrollIntoViewIfNeeded();
    while (!wishes.flat().includes(last)) await page.evaluate(() => new Promise(requestAnimationFrame));
    assert.ok((await drawn()) < 12);
    assert.ok(wishes.every((slots) => slots.length < 12));
  });
});
