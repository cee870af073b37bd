/**
 * How often the floor page draws 100,000 pixels, and how much of its main thread that takes.
 *
 *     npm run bench        after `npm run build`; ROUNDS= and SECONDS= change how long it looks
 *
 * A process of its own sends whole pictures in which every pixel moves.
 * What is measured is written to `target/bench/browser.json`; nothing is asserted.
 */
import { fork } from "node:child_process";
import { mkdirSync, writeFileSync } from "node:fs";
import { cpus } from "node:os";
import { fileURLToPath } from "node:url";
import * as check from "../tests/browser.mjs";

const ROUNDS = Number(process.env.ROUNDS ?? 5);
const SECONDS = Number(process.env.SECONDS ?? 5);
const OUT = fileURLToPath(new URL("../../target/bench/", import.meta.url));

const source = fork(fileURLToPath(new URL("source.mjs", import.meta.url)));
const url = await new Promise((resolve) => source.once("message", resolve));
const browser = await check.launch();
const rounds = [];
try {
  for (let round = 0; round < ROUNDS; round++) for (const size of ["desktop", "phone"]) rounds.push(await look(size));
} finally {
  await browser.close();
  source.kill();
}
const median = (list) => [...list].sort((a, b) => a - b)[Math.floor(list.length / 2)];
const spread = (list) => ({ median: median(list), least: Math.min(...list), most: Math.max(...list) });
const figures = Object.fromEntries(
  ["desktop", "phone"].map((size) => {
    const own = rounds.filter((one) => one.size === size);
    const column = (key) => spread(own.map((one) => one[key]));
    return [size, { drawn_per_s: column("drawn_per_s"), arrived_per_s: column("arrived_per_s"), main_thread: column("main_thread") }];
  }),
);
mkdirSync(OUT, { recursive: true });
writeFileSync(`${OUT}browser.json`, JSON.stringify({ pixels: 100_000, rounds: ROUNDS, seconds: SECONDS, processor: cpus()[0]?.model, cores: cpus().length, at: new Date().toISOString(), ...figures }, null, 2) + "\n");
console.log(JSON.stringify(figures, null, 2));

/** One look at the page: pictures that arrived, pictures that were drawn, time of the main thread. */
async function look(size) {
  const visitor = await check.open(browser, url, { size });
  const { page } = visitor;
  await check.ready(page, "floor");
  const session = await page.context().newCDPSession(page);
  await session.send("Performance.enable", { timeDomain: "timeTicks" });
  let arrived = 0;
  await session.send("Network.enable");
  session.on("Network.webSocketFrameReceived", ({ response }) => {
    // Kinds 2 and 7 of a binary message, in base 64.
    if (response.opcode === 2 && (response.payloadData.startsWith("Ag") || response.payloadData.startsWith("Bw"))) arrived += 1;
  });
  await page.evaluate(() => {
    const put = CanvasRenderingContext2D.prototype.putImageData;
    window.drawn = 0;
    CanvasRenderingContext2D.prototype.putImageData = function (...all) {
      window.drawn += 1;
      return put.apply(this, all);
    };
  });
  const now = async () => {
    const { metrics } = await session.send("Performance.getMetrics");
    const of = (name) => metrics.find((metric) => metric.name === name).value;
    return { at_s: of("Timestamp"), busy_s: of("TaskDuration"), drawn: await page.evaluate(() => window.drawn) };
  };
  // Counting what arrives costs time of its own, so that is done first, and apart.
  await page.waitForTimeout(1_000);
  const counted = arrived;
  await page.waitForTimeout(1_000 * SECONDS);
  const arrived_per_s = (arrived - counted) / SECONDS;
  await session.send("Network.disable");
  await page.waitForTimeout(500);
  const before = await now();
  await page.waitForTimeout(1_000 * SECONDS);
  const after = await now();
  await visitor.close();
  const span_s = after.at_s - before.at_s;
  return { size, arrived_per_s, drawn_per_s: (after.drawn - before.drawn) / span_s, main_thread: (after.busy_s - before.busy_s) / span_s };
}
