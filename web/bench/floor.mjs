/**
 * How often the floor page draws 100,000 pixels of a real litfloor, and how much of its main thread that takes.
 *
 *     npm run bench        after `npm run build` and `cargo build --release --bin litfloor --example wire_bench`;
 *                          ROUNDS= and SECONDS= change how long it looks
 *
 * `wire_bench play` is console and nodes. Shares are of processor time, so that they hold on a machine that has
 * other work too. `target/bench/browser.json` gets what is measured; nothing is asserted.
 */
import { mkdirSync, writeFileSync } from "node:fs";
import { cpus } from "node:os";
import { fileURLToPath } from "node:url";
import * as check from "../tests/browser.mjs";
import { look } from "./look.mjs";
import { play } from "./source.mjs";

const ROUNDS = Number(process.env.ROUNDS ?? 3);
const SECONDS = Number(process.env.SECONDS ?? 5);
/** What the console plays, 44 times a second. */
const CONTENTS = { "each jumps": [], "each glides": ["--glide"], "3 in 100 jump": ["--moving", "3"] };
const SIZES = ["desktop", "phone"];
const OUT = fileURLToPath(new URL("../../target/bench/", import.meta.url));

const rounds = [];
const browser = await check.launch();
try {
  for (let round = 0; round < ROUNDS; round++) {
    for (const [content, args] of Object.entries(CONTENTS)) {
      const source = await play(args);
      try {
        for (const size of SIZES) {
          const seen = { content, size, ...(await look(browser, source, size, SECONDS)) };
          console.error(JSON.stringify(seen));
          rounds.push(seen);
        }
      } finally {
        source.end();
      }
    }
  }
} finally {
  await browser.close();
}

const median = (list) => [...list].sort((a, b) => a - b)[Math.floor(list.length / 2)];
const spread = (list) => [Math.min(...list), median(list), Math.max(...list)];
const looks = Object.keys(CONTENTS).flatMap((content) =>
  SIZES.map((size) => {
    const own = rounds.filter((one) => one.content === content && one.size === size);
    const figures = Object.keys(own[0]).filter((key) => key !== "content" && key !== "size");
    return { content, size, ...Object.fromEntries(figures.map((key) => [key, spread(own.map((one) => one[key]))])) };
  }),
);
mkdirSync(OUT, { recursive: true });
const about = { rounds: ROUNDS, seconds: SECONDS, processor: cpus()[0]?.model, cores: cpus().length, at: new Date().toISOString() };
writeFileSync(`${OUT}browser.json`, JSON.stringify({ ...about, least_median_most: looks }, null, 2) + "\n");
console.log(JSON.stringify(looks));
