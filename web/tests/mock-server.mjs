/**
 * A stand-in for the daemon, for developing pages (`npm run mock`) and for states that a demo can't show:
 * serves `dist/` and speaks the contract of `/api/v1` on the loopback.
 */
import { readFile } from "node:fs/promises";
import { createServer } from "node:http";
import { extname, join, normalize } from "node:path";
import { fileURLToPath } from "node:url";
import { WebSocketServer } from "ws";
import { control } from "./mock-control.mjs";
import { deltaMessage } from "./mock-deltas.mjs";
import { huge, movingPicture, reckon, stage } from "./mock-floor.mjs";
import { answerHistory } from "./mock-history.mjs";
import { arrivalOf, slotsMessage, slotsOf } from "./mock-slots.mjs";
import { voltagesOf } from "./mock-voltages.mjs";

const DIST = fileURLToPath(new URL("../dist", import.meta.url));
const TYPES = { ".html": "text/html", ".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml" };
const POLICY =
  "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; " +
  "frame-ancestors 'none'; base-uri 'none'; form-action 'self'";

/**
 * @param {object} options
 * @param {object} [options.model] a floor of mock-floor.mjs
 * @param {(model: object, t: number) => Uint8Array} [options.picture] what the console asks for at a time
 * @param {(state: object) => object} [options.change] changes a state before it is sent
 * @param {object} [options.operator] who may change something: `passphrase` (null: none is set) and `here`, whether from this machine
 * @param {(universe: object) => object} [options.changeSlots] changes a universe's slots before they are sent
 * @param {(voltages: object) => object} [options.changeVoltages] changes voltages before they are sent
 * @param {object} [options.health] what is known at first: `known` (`some`, `nothing` or `good`), and `blank`, whether the book is
 * @param {number} [options.port]
 * @param {object} [options.recorded] how the recorded history is, see mock-history.mjs
 * @param {number} [options.most_fps] how many pictures a second are sent at most, however many a page asks for
 * @param {number} [options.state_ms] how long after a state the next is sent
 * @param {WeakMap} [options.reckoned] what pictures draw, of those that were reckoned before
 * @param {boolean} [options.silent] never sends anything over the WebSocket
 */
export async function startMock({ model = stage(), picture = movingPicture, change = (s) => s, changeSlots = (u) => u, changeVoltages = (v) => v, operator = {}, health = {}, port = 0, silent = false, recorded = {}, most_fps = 30, state_ms = 250, reckoned = new WeakMap() } = {}) {
  const started = Date.now();
  const uptime = () => 700 + (Date.now() - started) / 1000;
  let last = { asked: null };
  const orders = control(model, uptime, operator, health);
  const now = () => {
    const t = uptime();
    const asked = orders.picture(picture(model, t));
    // A still picture is reckoned once.
    if (asked !== last.asked) last = { asked, ...(reckoned.get(asked) ?? reckon(model, asked)) };
    return { t, ...last };
  };
  const state = (at = now()) => change({ ...orders.limited(stateOf(model, at)), calibration: calibrationOf(orders.calibration), pattern: orders.state(), survey: 0, standby: null, health_version: orders.health.version(), revision: model.floor.revision, file: orders.file });

  const server = createServer(async (request, response) => {
    const path = new URL(request.url, "http://localhost").pathname;
    const headers = { "content-security-policy": POLICY, "x-content-type-options": "nosniff", "cache-control": "no-store" };
    const json = (value) => {
      response.writeHead(200, { ...headers, "content-type": "application/json" });
      response.end(JSON.stringify(value));
    };
    if (await orders.answer(request, response, path, headers)) return;
    if (path === "/api/v1/floor") return json(model.floor);
    if (path === "/api/v1/state") return json(state());
    if (path === "/api/v1/voltages") return json(changeVoltages(voltagesOf(model, now())));
    const asked = new URL(request.url, "http://localhost").searchParams;
    if (path === "/api/v1/history" && asked.size === 0) return json(historyOf(model, picture, uptime()));
    if (await answerHistory(recorded, model, path, asked, response, headers, json)) return;
    const file = join(DIST, normalize(path === "/" ? "/index.html" : path));
    try {
      const body = await readFile(file);
      response.writeHead(200, { ...headers, "content-type": TYPES[extname(file)] ?? "application/octet-stream" });
      response.end(body);
    } catch {
      response.writeHead(404, headers).end("not found");
    }
  });
  /** Pictures that were sent, to all. */
  const sent = { whole: 0, changes: 0 };
  const sockets = new WebSocketServer({ server, path: "/api/v1/live" });
  sockets.on("connection", (socket) => {
    const slots = (asked, wish) => slotsMessage(model, asked, wish, picture(model, uptime() - 1), changeSlots);
    const volts = () => jsonMessage(model, 6, changeVoltages(voltagesOf(model, now())));
    if (!silent) serve(socket, model, now, state, orders, slots, volts, { most_fps, state_ms, sent });
  });
  await new Promise((resolve) => server.listen(port, "127.0.0.1", resolve));
  return {
    url: `http://127.0.0.1:${server.address().port}`,
    port: server.address().port,
    model,
    orders,
    /** How many pictures were sent whole, and how many as what changed. */
    pictures: sent,
    /** Breaks every live connection, as a network does that blinks. */
    cut() {
      for (const socket of sockets.clients) socket.terminate();
    },
    async stop() {
      for (const socket of sockets.clients) socket.terminate();
      sockets.close();
      server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
    },
  };
}

function serve(socket, model, now, state, orders, slots, volts, { most_fps, state_ms, sent }) {
  let wish = { view: "sent", max_fps: 30 };
  let frame = 0;
  let deltas = false;
  /** What each view showed last, and in which frame. */
  const shown = { sent: null, asked: null };
  socket.send(layoutMessage(model));
  const sendLevels = (view) => {
    if (view === "none" || socket.bufferedAmount > 1_000_000) return;
    const at = now();
    const last = shown[view];
    if (at.asked === last?.asked) return;
    shown[view] = { asked: at.asked, levels: at[view], frame: ++frame };
    if (!deltas || !last) {
      sent.whole += 1;
      return socket.send(levelsMessage(model, at[view], view, frame, at.t));
    }
    sent.changes += 1;
    socket.send(deltaMessage(model, last.levels, at[view], view, { before: last.frame, now: frame }, at.t));
  };
  const sendState = () => socket.send(jsonMessage(model, 3, state()));
  sendState();
  const other = () => ({ sent: "asked", asked: "sent", none: "none" })[wish.view];
  const every = (fps, view) => setInterval(() => sendLevels(view()), 1000 / Math.min(most_fps, Math.max(1, fps)));
  let levels = [every(wish.max_fps, () => wish.view)];
  const states = setInterval(sendState, state_ms);
  const sendSlots = () => {
    if (wish.slots?.length && socket.bufferedAmount < 1_000_000) socket.send(slots(now(), wish));
  };
  const ribbons = setInterval(sendSlots, 100);
  const sendVolts = () => {
    if (wish.voltages && socket.bufferedAmount < 1_000_000) socket.send(volts());
  };
  const voltages = setInterval(sendVolts, 400);
  socket.on("message", (text) => {
    const said = JSON.parse(text.toString());
    deltas = said.deltas ?? deltas;
    if (said.me !== undefined) return socket.send(idMessage(orders.came(socket, said.me)));
    wish = said;
    levels.forEach(clearInterval);
    levels = [every(wish.max_fps, () => wish.view)];
    shown.sent = shown.asked = null;
    sendLevels(wish.view);
    sendSlots();
    sendVolts();
    if (wish.also_fps) {
      levels.push(every(wish.also_fps, other));
      sendLevels(other());
    }
  });
  socket.on("close", () => {
    levels.forEach(clearInterval);
    clearInterval(states);
    orders.left(socket);
    clearInterval(ribbons);
    clearInterval(voltages);
  });
}

function layoutMessage({ floor, xy }) {
  let text = Buffer.from(JSON.stringify(floor));
  text = Buffer.concat([text, Buffer.alloc((4 - (text.length % 4)) % 4, " ")]);
  const head = Buffer.alloc(16);
  head.writeUInt8(1, 0);
  head.writeUInt8(1, 1);
  head.writeUInt32LE(floor.revision, 4);
  head.writeUInt32LE(text.length, 8);
  head.writeUInt32LE(xy.length / 2, 12);
  const places = Buffer.alloc(xy.length * 4);
  xy.forEach((mm, i) => places.writeFloatLE(mm, i * 4));
  return Buffer.concat([head, text, places]);
}

function levelsMessage({ floor, channels }, levels, view, frame, uptime_s) {
  const head = Buffer.alloc(16);
  head.writeUInt8(2, 0);
  head.writeUInt8(view === "asked" ? 1 : 0, 1);
  head.writeUInt8(channels, 2);
  head.writeUInt32LE(floor.revision, 4);
  head.writeUInt32LE(frame, 8);
  head.writeUInt32LE(Math.round(uptime_s * 1000), 12);
  return Buffer.concat([head, levels]);
}

function idMessage(id) {
  return Buffer.concat([Buffer.from([4, 0, 0, 0]), Buffer.from(id)]);
}

function jsonMessage({ floor }, kind, content) {
  const head = Buffer.alloc(8);
  head.writeUInt8(kind, 0);
  head.writeUInt32LE(floor.revision, 4);
  return Buffer.concat([head, Buffer.from(JSON.stringify(content))]);
}

function stateOf(model, { t, asked, circuits, supplies, feeds, panels }) {
  const { floor } = model;
  const all = slotsOf(model, asked);
  const capped = feeds.filter((f) => f.scale < 1);
  const over = feeds.filter((f) => f.draw_a > f.limit_a).map((f) => ({
    code: "over_limit", severity: "danger", text: `Feed ${f.name} draws ${f.draw_a.toFixed(1)} A, over its limit of ${f.limit_a.toFixed(1)} A.`,
  }));
  return {
    uptime_s: t,
    artnet: "0.0.0.0:6454",
    signal: "live",
    frames_in: Math.floor(t * 44 * floor.universes.length),
    frames_out: floor.watch_only ? 0 : Math.floor(t * 40 * floor.universes.length),
    frames_refused: { old_sequence: 12, unmapped: 381 },
    datagrams: { taken: Math.floor(t * 44 * floor.universes.length), poll: 280, poll_reply: 560, old_sequence: 12, unmapped: 381 },
    universes: floor.universes.map((u, i) => ({
      port_address: u.port_address, fps: 43.8 + 0.1 * (i % 4), age_s: 0.01, slots: u.slots, mapped: true, merging: i === 1,
      synced: false, lost: false, arrival: arrivalOf(u.slots, all.get(u.port_address)),
      sources: [
        { address: "10.20.0.5", physical: 0, age_s: 0.01, ignored: false },
        ...(i === 1 ? [{ address: "10.20.0.6", physical: 1, age_s: 0.2, ignored: false }] : []),
      ],
    })),
    nodes: floor.nodes.map((n, i) => ({
      ...n, online: true, last_reply_s: 0.8 + i, short_name: `PX-${i + 1}`, long_name: `Pixel driver ${i + 1}, ${n.name}`,
      firmware: "1.4", report: "#0001 [0042] running", frames_out: Math.floor(t * 40 * 6), not_listed: [], send_errors: 0, last_send_error_s: null,
      ports: floor.universes.slice(i * 4, i * 4 + 4).map((u) => ({
        direction: "output", port_address: u.port_address, active: true, short_circuit: false,
      })),
      sends: floor.universes.slice(i * 6, i * 6 + 6).map((u) => u.port_address),
    })),
    strangers: [{ address: "10.20.0.77", short_name: "spare", last_reply_s: 2.1 }],
    floor: floorLoad(circuits, floor),
    circuits, supplies, feeds,
    panels: panels.map(({ position, asked_a, draw_a, limit_a, scale, impossible, segments_a }, i) => ({ position, asked_a, draw_a, limit_a, scale, impossible, segments_a, ...switchesOf(floor.panels[i], i) })),
    inputs: inputsOf(floor),
    presses: floor.nodes.length ? [{ number: 41, position: floor.panels[1].position, switch: 2, down: true, at_s: t }] : [],
    alarms: [],
    sensors: sensorsOf(supplies, feeds),
    calibration: calibrationOf(null),
    notices: floor.watch_only ? over : capped.length
      ? [{ code: "capping", severity: "info", text: `The cap holds ${capped.map((f) => `feed ${f.name}`).join(", ")} at the limit.` }]
      : [],
  };
}

function floorLoad(circuits, floor) {
  const va = (key) => circuits.reduce((sum, circuit, i) => sum + circuit[key] * floor.circuits[i].volts, 0);
  return {
    asked_va: va("asked_a"), draw_va: va("draw_a"), reserved_va: va("reserved_a"), silent_va: 0, idle_va: va("idle_a"),
    limit_va: null, rated_va: null, live_limit_va: null, scale: 1, impossible: false,
  };
}

/** Somebody stands on the second panel; nothing is known of the third's switches. */
function switchesOf(panel, i) {
  const known = panel.node !== null && panel.switches > 0 && i !== 2;
  return { pressed: known && i === 1 ? [2, 3].filter((n) => n <= panel.switches) : [], switches_known: known };
}

/** One universe of switches that arrives, one that is lost. */
function inputsOf(floor) {
  return floor.nodes.map((node, i) => ({ port_address: `0:2:${i}`, node: node.name, age_s: i === 1 ? 94 : 0.3, lost: i === 1, switches: 96, cut_off: 0 }));
}

/** Sensors in every state that there is, at the first supply and the first feeds. */
function sensorsOf(supplies, feeds) {
  const at = (word, group, i) => ({ place: `${word} ${group[i % group.length].name}`, computed: group[i % group.length].draw_a });
  const sensor = (name, state, { place, computed }, share, more = {}) => ({
    name, place, quantity: "current", state, measured: computed * share, computed, expected: computed,
    difference_percent: (share - 1) * 100, tolerance_percent: 5, age_s: 0.4, live_limit_a: null, stricter: false, calibration: null, ...more,
  });
  const calibration = { idle_a: 0.31, gains: { red: 1.03, green: 0.99, blue: 1.01 }, residual_a: 0.04, above_a: 0.02 };
  return [
    sensor("main clamp", "good", at("supply", supplies, 0), 1.01, { calibration }),
    sensor("feed shunt", "apart_above", at("feed", feeds, 0), 1.21, { live_limit_a: feeds[0].limit_a / 1.21, stricter: true }),
    sensor("second shunt", "silent", at("feed", feeds, 1), 1, { age_s: 84 }),
    sensor("third shunt", "frozen", at("feed", feeds, 2), 0.4),
    sensor("spare", "absurd", at("feed", feeds, 3), 1, { measured: null, difference_percent: null }),
    { ...sensor("far corner", "waiting", { place: "panel A1", computed: null }, 1), quantity: "voltage", measured: null, computed: null, expected: null, difference_percent: null, age_s: null },
  ];
}

function calibrationOf(calibration) {
  const running = calibration === "running";
  const outcomes = calibration === "ended"
    ? [{ sensor: "main clamp", refused: null }, { sensor: "second shunt", refused: "it was silent during the run" }]
    : [];
  return { running, step: running ? 3 : 0, steps: 9, ends_in_s: running ? 31.5 : 0, ended: outcomes.length > 0 ? 1 : 0, outcomes };
}

function historyOf(model, picture, uptime_s) {
  const rows = 600;
  // A whole reckoning for each of 600 rows would take seconds in which nothing else is served.
  const held_s = model.xy.length < 20_000 ? 5 : 300;
  const at = Array.from({ length: rows / held_s }, (_, i) => reckon(model, picture(model, uptime_s - rows + i * held_s)));
  const row = (i) => at[Math.floor(i / held_s)];
  const column = (group, key) =>
    model.floor[group].map((_, e) => Array.from({ length: rows }, (__, i) => row(i)[group][e][key]));
  const all = (key) => Object.fromEntries(["circuits", "supplies", "feeds"].map((g) => [g, column(g, key)]));
  return {
    step_s: 1,
    names: Object.fromEntries(["circuits", "supplies", "feeds"].map((g) => [g, model.floor[g].map((e) => e.name)])),
    uptime_s: Array.from({ length: rows }, (_, i) => uptime_s - rows + i),
    asked_a: all("asked_a"),
    draw_a: all("draw_a"),
  };
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const floors = { stage, huge, bare: () => stage({ copper: false }), watch: () => stage({ watchOnly: true }), white: () => stage({ white: true }) };
  const model = (floors[process.env.FLOOR] ?? stage)();
  const operator = { passphrase: process.env.PASSPHRASE ?? null };
  const mock = await startMock({ model, operator, port: Number(process.env.PORT ?? 8099) });
  process.stdout.write(`pages on ${mock.url}\n`);
}
