/** One look at the floor page: what arrives, what is drawn, and what that costs page and daemon. */
import { readdirSync, readFileSync } from "node:fs";
import * as check from "../tests/browser.mjs";

/** Hundredths of a second, as `/proc` counts on every Linux that we know of. */
const TICK_S = 0.01;

export async function look(browser, source, size, seconds) {
  const visitor = await check.open(browser, source.url, { size });
  const { page } = visitor;
  await check.ready(page, "floor");
  await page.evaluate(() => {
    const put = CanvasRenderingContext2D.prototype.putImageData;
    window.drawn = 0;
    CanvasRenderingContext2D.prototype.putImageData = function (...all) {
      window.drawn += 1;
      return put.apply(this, all);
    };
  });
  const [wall, thread] = [await metrics(page, "timeTicks"), await metrics(page, "threadTicks")];
  await page.waitForTimeout(1_000);
  const now = async () => ({ wall: await wall(), thread: await thread(), drawn: await page.evaluate(() => window.drawn), daemon: spent(source.pid) });
  const before = await now();
  await page.waitForTimeout(1_000 * seconds);
  const after = await now();
  // Counting what arrives costs so much that pictures queue and the page asks for fewer: it comes last.
  const came = await arrives(page, seconds);
  await visitor.close();
  const span_s = after.wall.at_s - before.wall.at_s;
  return {
    ...came,
    drawn_per_s: (after.drawn - before.drawn) / span_s,
    main_thread: (after.thread.busy_s - before.thread.busy_s) / span_s,
    main_thread_by_the_clock: (after.wall.busy_s - before.wall.busy_s) / span_s,
    daemon_frames: (after.daemon.frames_s - before.daemon.frames_s) / span_s,
    daemon_rest: (after.daemon.rest_s - before.daemon.rest_s) / span_s,
  };
}

/** How many pictures come to a page, and how large they are. */
async function arrives(page, seconds) {
  const session = await page.context().newCDPSession(page);
  let [arrived, bytes] = [0, 0];
  await session.send("Network.enable");
  session.on("Network.webSocketFrameReceived", ({ response }) => {
    // Kinds 2 and 7 of a binary message, in base 64.
    if (response.opcode !== 2 || !/^(Ag|Bw)/.test(response.payloadData)) return;
    arrived += 1;
    bytes += (response.payloadData.length * 3) / 4;
  });
  await page.waitForTimeout(1_000);
  [arrived, bytes] = [0, 0];
  const began = performance.now();
  await page.waitForTimeout(1_000 * seconds);
  const counted_s = (performance.now() - began) / 1_000;
  await session.send("Network.disable");
  await session.detach();
  return { arrived_per_s: arrived / counted_s, mb_per_s: bytes / 1e6 / counted_s };
}

/** Reads what the page's main thread has done, by one of the two clocks. */
async function metrics(page, timeDomain) {
  const session = await page.context().newCDPSession(page);
  await session.send("Performance.enable", { timeDomain });
  return async () => {
    const { metrics } = await session.send("Performance.getMetrics");
    const of = (name) => metrics.find((metric) => metric.name === name).value;
    return { at_s: of("Timestamp"), busy_s: of("TaskDuration") };
  };
}

/** Processor time of the daemon: the thread that forwards, and all others, which paint, compare and send. */
function spent(pid) {
  const time = { frames_s: 0, rest_s: 0 };
  for (const task of readdirSync(`/proc/${pid}/task`)) {
    const stat = readFileSync(`/proc/${pid}/task/${task}/stat`, "utf8");
    const fields = stat.slice(stat.lastIndexOf(")") + 2).split(" ");
    const part = stat.includes("(frames)") ? "frames_s" : "rest_s";
    time[part] += (Number(fields[11]) + Number(fields[12])) * TICK_S;
  }
  return time;
}
