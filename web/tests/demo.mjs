/** A `litfloor demo` of a test's own, on ports that are free. LITFLOOR names the program. */
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { createInterface } from "node:readline";

export const PROGRAM = process.env.LITFLOOR;

/** Where its pages are, and how it is ended: it must then end with 0. */
export async function startDemo() {
  // What whoever runs the tests has set is none of its business.
  const { LITFLOOR_PASSPHRASE, STATE_DIRECTORY, ...env } = process.env;
  const daemon = spawn(PROGRAM, ["demo", "--artnet", "127.0.0.1:0", "--http", "127.0.0.1:0"], { env, stdio: ["ignore", "pipe", "ignore"] });
  const ended = new Promise((resolve, reject) => {
    daemon.once("error", reject);
    daemon.once("exit", (code, signal) => resolve(code ?? signal));
  });
  const said = new Promise((resolve) => {
    createInterface({ input: daemon.stdout }).on("line", (line) => line.startsWith("Dashboard: ") && resolve(line.slice("Dashboard: ".length)));
  });
  const gone = ended.then((code) => Promise.reject(new Error(`the demo ended with ${code} before it was there`)));
  gone.catch(() => {});
  const url = await Promise.race([said, gone]);
  return {
    url,
    async stop() {
      daemon.kill("SIGINT");
      assert.equal(await ended, 0);
    },
  };
}
