/** The pages at the address for guests, and encrypted: the real program, with a certificate of its own. */
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { createInterface } from "node:readline";
import { test } from "node:test";
import * as check from "./browser.mjs";
import { PROGRAM } from "./demo.mjs";
import { browser, goto } from "./visit.mjs";

const where = { skip: !PROGRAM && "LITFLOOR is not set" };
const PASSPHRASE = "correct horse";
/** Pages that guests have not, and what they see in their place. */
const NEAREST = { test: "floor", stepping: "floor", survey: "faults", bench: "faults", rebuild: "faults", labels: "faults" };
const GONE = Object.keys(NEAREST);
const FOR_GUESTS = "For guests, who can only look: ";

/** A floor that runs with both doors; its node is nobody on the loopback. */
async function house() {
  const home = mkdtempSync(join(tmpdir(), "litfloor-"));
  const floor = join(home, "floor.toml");
  const example = readFileSync(new URL("../../config/first-floor.toml", import.meta.url), "utf8");
  writeFileSync(floor, example.replace(/^address = .*$/m, 'address = "127.0.0.9"'));
  const { STATE_DIRECTORY, ...env } = process.env;
  const options = ["--artnet", "127.0.0.1:0", "--http", "127.0.0.1:0", "--guests", "127.0.0.1:0", "--tls-own", "--state", join(home, "state")];
  const daemon = spawn(PROGRAM, ["run", floor, ...options], { env: { ...env, LITFLOOR_PASSPHRASE: PASSPHRASE }, stdio: ["ignore", "pipe", "ignore"] });
  const ended = new Promise((resolve) => daemon.once("exit", resolve));
  const said = (beginning) => new Promise((resolve) => lines.on("line", (line) => line.startsWith(beginning) && resolve(line.slice(beginning.length))));
  const lines = createInterface({ input: daemon.stdout });
  const [own, guests] = await Promise.all([said("Dashboard: "), said(FOR_GUESTS)]);
  return {
    own,
    guests,
    async stop() {
      daemon.kill("SIGINT");
      assert.equal(await ended, 0);
      rmSync(home, { recursive: true });
    },
  };
}

test("guests see every page and no control; the operator signs in over an encrypted connection", where, async () => {
  const { own, guests, stop } = await house();
  assert.match(own, /^https:/);
  // Nobody vouches for the certificate: a person would compare the fingerprint here.
  const trusting = { ignoreHTTPSErrors: true };
  try {
    const operator = await check.open(browser, own, trusting);
    await check.ready(operator.page, "floor");
    await operator.page.getByRole("button", { name: "Sign in", exact: true }).click();
    await operator.page.getByLabel("Passphrase").fill(PASSPHRASE);
    await operator.page.getByRole("dialog").getByRole("button", { name: "Sign in", exact: true }).click();
    await operator.page.getByRole("button", { name: "Signed in", exact: true }).waitFor();
    const [cookie] = await operator.page.context().cookies();
    assert.deepEqual([cookie.secure, cookie.httpOnly, cookie.sameSite], [true, true, "Strict"]);
    await goto(operator.page, "test");
    await operator.page.getByRole("button", { name: "Start", exact: true }).waitFor();

    // Something stands in the book.
    const noted = await operator.page.evaluate(async () => {
      const note = JSON.stringify({ text: "A screw is missing.", who: "Ida" });
      const answer = await fetch("/api/v1/book/panels/X1/notes", { method: "POST", body: note, headers: { "content-type": "application/json" } });
      return answer.status;
    });
    assert.equal(noted, 200);

    // With the operator's cookie too, for cookies do not know ports.
    const guest = await check.open(browser, guests, trusting);
    await guest.page.context().addCookies([cookie]);
    await guest.page.reload();
    await check.ready(guest.page, "floor");
    await guest.page.getByText("Guests", { exact: true }).waitFor();
    const pages = check.PAGES.filter((name) => name !== "test");
    const named = await guest.page.getByRole("navigation").getByRole("link").allTextContents();
    assert.deepEqual(named.map((word) => word.trim().toLowerCase()), pages);
    for (const name of [...pages, "panels", "panel/X1"]) {
      await guest.page.evaluate((hash) => {
        location.hash = hash;
      }, `#/${name}`);
      await check.ready(guest.page, name.replace(/[/].*/, ""));
      if (name === "panel/X1") await guest.page.getByText("A screw is missing.").waitFor();
      for (const word of [/sign in/i, /^signed in$/i, /^control$/i, /^start/i, /^begin/i, /read the file again/i, /^stop/i, /^set/i]) {
        assert.equal(await guest.page.getByRole("button", { name: word }).count(), 0, `${name}: ${word}`);
      }
      // What is typed is only looked for, and no way leads to what is not there.
      const fields = await guest.page.locator("main :is(input[type=text], input[type=number], input[type=range], input:not([type]), textarea)").evaluateAll((all) => all.map((field) => field.labels?.[0]?.textContent ?? field.outerHTML));
      assert.deepEqual(fields.filter((label) => !/^(Find a panel|Search by serial)/.test(label)), [], name);
      assert.equal(await guest.page.locator("a[download], a[href*='/api/']").count(), 0, name);
      for (const gone of GONE) assert.equal(await guest.page.locator(`a[href^="#/${gone}"]`).count(), 0, `${name}: ${gone}`);
      await check.noViolations(guest.page, `${name} for guests`);
      await check.shoot(guest.page, `guests-${name.replace("/", "-")}`);
    }
    // Who types their addresses sees what is nearest.
    for (const gone of GONE) {
      await guest.page.evaluate((hash) => {
        location.hash = hash;
      }, `#/${gone}`);
      await check.ready(guest.page, NEAREST[gone]);
    }
    // Nothing was asked that guests don't get: a browser would have complained.
    assert.deepEqual(guest.wrong, []);
    assert.deepEqual(operator.wrong, []);
    await guest.close();
    await operator.close();
  } finally {
    await stop();
  }
});
