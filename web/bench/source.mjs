/** A litfloor with 100,640 pixels, and a console that plays on it: `wire_bench play`, WIRE_BENCH and LITFLOOR name the programs. */
import { spawn } from "node:child_process";
import { createInterface } from "node:readline";
import { fileURLToPath } from "node:url";

const RELEASE = fileURLToPath(new URL("../../target/release/", import.meta.url));
const { WIRE_BENCH = `${RELEASE}examples/wire_bench`, LITFLOOR = `${RELEASE}litfloor` } = process.env;

/** Plays at 44 Hz what these words of the command line ask for. */
export async function play(args) {
  const player = spawn(WIRE_BENCH, ["play", "--litfloor", LITFLOOR, ...args], { stdio: ["pipe", "pipe", "inherit"] });
  const line = new Promise((resolve, reject) => {
    createInterface({ input: player.stdout }).once("line", resolve);
    player.once("error", reject);
    player.once("exit", (code) => reject(new Error(`${WIRE_BENCH} ended with ${code} before it played`)));
  });
  const [pid, url] = (await line).split(" ");
  // It ends, and litfloor with it, when nobody listens any more.
  const ended = new Promise((resolve) => player.once("exit", resolve));
  return { pid, url, end: () => (player.stdin.end(), ended) };
}
