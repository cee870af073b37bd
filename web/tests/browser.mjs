/** Chromium and the checks that every page must pass. */
import assert from "node:assert/strict";
import { existsSync, mkdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";

const axeSource = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
/** Pictures of the pages, for people to look at: SHOTS=1 takes them. */
const SHOTS = process.env.SHOTS ? fileURLToPath(new URL("../../target/screenshots/", import.meta.url)) : null;
const EXECUTABLE = process.env.CHROMIUM ?? "/usr/bin/chromium";

export const SIZES = { phone: { width: 390, height: 844 }, desktop: { width: 1440, height: 900 } };
/** The smallest phone that people still carry. */
export const SMALL = { width: 320, height: 640 };
/** A page is opened in one theme, and what it must keep is then checked in the other as well. */
const FIRST = { phone: "dark", desktop: "light" };
/** A phone's width that many have; no rule of our style sheets changes between this and `SIZES.phone`. */
const NARROW = 360;
export const PAGES = ["floor", "faults", "power", "nodes", "signal", "patch", "test"];

export async function launch() {
  assert.ok(existsSync(EXECUTABLE), `no browser at ${EXECUTABLE}: install Debian's chromium, or set CHROMIUM to one`);
  if (SHOTS) mkdirSync(SHOTS, { recursive: true });
  const args = [
    "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync",
    // Without a graphics card its work is only emulated, which costs more than to do without.
    "--disable-gpu", "--disable-software-rasterizer",
  ];
  // Chromium's sandbox refuses to work for root, which is what a build container often is.
  if (process.getuid?.() === 0) args.push("--no-sandbox");
  return chromium.launch({ executablePath: EXECUTABLE, args });
}

/** A page that notes whatever goes wrong on it. */
export async function open(browser, url, { size = "desktop", theme = FIRST[size] ?? "dark", ...more } = {}) {
  const viewport = SIZES[size] ?? size;
  const context = await browser.newContext({ viewport, colorScheme: theme, hasTouch: viewport.width < 760, ...more });
  const page = await context.newPage();
  const wrong = [];
  page.on("console", (m) => {
    // Reading the canvas back is what the tests do, not the page.
    if (["error", "warning"].includes(m.type()) && !m.text().includes("willReadFrequently")) {
      wrong.push(`${m.type()}: ${m.text()}`);
    }
  });
  page.on("pageerror", (error) => wrong.push(`exception: ${error.message}`));
  page.on("request", (r) => {
    if (new URL(r.url()).origin !== new URL(url).origin) wrong.push(`asked elsewhere: ${r.url()}`);
  });
  await page.goto(url);
  return { page, wrong, close: () => context.close() };
}

/** Waits until a page has its content. */
export async function ready(page, name) {
  await page.locator(`main[aria-label="${name[0].toUpperCase()}${name.slice(1)}"]`).waitFor();
  if (name === "floor") await page.waitForFunction(() => document.querySelector("[data-viewport]"));
  else await page.locator("main h2").first().waitFor();
}

/** Rules of axe-core whose outcome depends on colours; all others see the same page in either theme. */
const OF_COLOURS = ["color-contrast", "link-in-text-block"];

export async function noViolations(page, what, only = null) {
  if (!(await page.evaluate(() => "axe" in window))) await page.evaluate(axeSource);
  const options = { resultTypes: ["violations"], ...(only && { runOnly: { type: "rule", values: only } }) };
  const { violations } = await page.evaluate((options) => window.axe.run(document, options), options);
  const told = violations.map((v) => `${v.id}: ${v.help}\n    ${v.nodes.map((n) => n.html.slice(0, 160)).join("\n    ")}`);
  assert.deepEqual(told, [], `axe-core on ${what}`);
}

export async function noSidewaysScroll(page, what) {
  const { wide, window: room, culprits } = await page.evaluate(() => ({
    wide: document.documentElement.scrollWidth,
    window: window.innerWidth,
    culprits: [...document.querySelectorAll("body *")]
      .filter((e) => e.getBoundingClientRect().right > window.innerWidth + 1 && !e.closest("svg, [data-viewport], [data-scrolls] *"))
      .map((e) => `${e.tagName} ${e.className}`),
  }));
  assert.ok(wide <= room, `${what} is ${wide} px wide in ${room}: ${culprits.slice(0, 5).join("; ")}`);
  assert.deepEqual(culprits, [], `${what}: these stick out to the right`);
}

/** No word is cut off without three dots, and none sticks out of its cell. */
export async function nothingClipped(page, selector, what) {
  const cut = await page.evaluate((selector) => {
    const words = [...document.querySelectorAll(selector)].flatMap((e) => [...e.querySelectorAll("*")]);
    return words
      .filter((e) => e.children.length === 0 && e.textContent.trim() && e.checkVisibility() && !e.closest("a[href]"))
      .filter((e) => {
        const cell = e.closest("[data-tone]") ?? e.parentElement;
        const out = e.getBoundingClientRect().right > cell.getBoundingClientRect().right + 1;
        const dots = getComputedStyle(e).textOverflow === "ellipsis";
        return out || (!dots && getComputedStyle(e).overflowX !== "visible" && e.scrollWidth > e.clientWidth + 1);
      })
      .map((e) => `${e.className}: ${e.textContent}`);
  }, selector);
  assert.deepEqual(cut, [], `cut off on ${what}`);
}

/** Every control can be hit by a thumb: 44 CSS pixels both ways (WCAG 2.2, 2.5.5). */
export async function largeTargets(page, what) {
  const small = await page.evaluate(() => {
    const controls = [...document.querySelectorAll("button, a[href], select, summary, label:has(input)")];
    return controls
      .filter((e) => e.checkVisibility() && e.getBoundingClientRect().right > 0)
      .map((e) => ({ name: e.textContent || e.ariaLabel, ...e.getBoundingClientRect().toJSON() }))
      .filter(({ width, height }) => width > 0 && (width < 43.9 || height < 43.9))
      .map(({ name, width, height }) => `${name}: ${width} × ${height}`);
  });
  assert.deepEqual(small, [], `${what}: too small to tap`);
}

/** All that a page must keep, in both themes, on a phone also where it is narrower, and its pictures. */
export async function fine(page, name) {
  const opened = await themeOf(page);
  const other = opened === "dark" ? "light" : "dark";
  const size = page.viewportSize();
  const fits = async (what) => {
    await noSidewaysScroll(page, what);
    await largeTargets(page, what);
    await shoot(page, what.replaceAll(" ", "-"));
  };
  await noViolations(page, `${name} ${opened}`);
  await fits(`${name} ${opened}`);
  if (size.width === SIZES.phone.width) await page.setViewportSize({ ...size, width: NARROW });
  await turn(page, other);
  await noViolations(page, `${name} ${other}`, OF_COLOURS);
  await fits(`${name} ${other}`);
  if (size.width === SIZES.phone.width) await page.setViewportSize(size);
  await turn(page, opened);
}

const themeOf = (page) => page.evaluate(() => document.documentElement.dataset.theme);

/** As when the system's theme changes at dusk. */
async function turn(page, theme) {
  await page.emulateMedia({ colorScheme: theme });
  await page.waitForFunction((theme) => document.documentElement.dataset.theme === theme, theme);
}

export async function shoot(page, name) {
  if (SHOTS) await page.screenshot({ path: `${SHOTS}${name}.png`, fullPage: true });
}

/** Where the middle of a panel lies in the window. */
export function middleOf(page, panel) {
  return page.evaluate((p) => {
    const plan = document.querySelector("[data-viewport]");
    const [scale, tx, ty] = plan.dataset.viewport.split(" ").map(Number);
    const box = plan.getBoundingClientRect();
    const ratio = window.devicePixelRatio;
    return {
      x: box.x + ((p.x_mm + p.width_mm / 2) * scale + tx) / ratio,
      y: box.y + ((p.y_mm + p.height_mm / 2) * scale + ty) / ratio,
    };
  }, panel);
}

/** Colours in the middle of given pixels of the plan, as the canvas holds them. */
export function readPixels(page, xyMm, pixels) {
  return page.evaluate(
    ({ xyMm, pixels }) => {
      const [scale, tx, ty] = document.querySelector("[data-viewport]").dataset.viewport.split(" ").map(Number);
      const canvas = document.querySelector('[data-layer="pixels"]');
      const image = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
      return pixels.map((p) => {
        // A dot's pixels lie round its centre; half a pixel less is surely inside.
        const x = Math.round(xyMm[2 * p] * scale + tx - 0.5);
        const y = Math.round(xyMm[2 * p + 1] * scale + ty - 0.5);
        return [...image.data.slice((y * canvas.width + x) * 4, (y * canvas.width + x) * 4 + 4)];
      });
    },
    { xyMm: [...xyMm], pixels },
  );
}

/** What the browser itself makes of linear light in 510 steps: CSS Color 4's `color(srgb-linear …)`. */
export function encodeByBrowser(page) {
  return page.evaluate(() => {
    const canvas = document.createElement("canvas");
    canvas.width = 511;
    canvas.height = 1;
    const ctx = canvas.getContext("2d");
    for (let step = 0; step <= 510; step++) {
      ctx.fillStyle = `color(srgb-linear ${step / 510} 0 0)`;
      ctx.fillRect(step, 0, 1, 1);
    }
    return [...ctx.getImageData(0, 0, 511, 1).data].filter((_, i) => i % 4 === 0);
  });
}
