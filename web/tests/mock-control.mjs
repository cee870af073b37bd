/** The mock's operator and test patterns: just enough of the daemon's rules for the pages to be tried. */
import { book as booked } from "./mock-book.mjs";
import { faults as faulty } from "./mock-faults.mjs";
import { simulation } from "./mock-simulation.mjs";
import { stepping } from "./mock-stepping.mjs";

const SESSION = "litfloor_session";
const GRACE_MS = 3000;

/** A walk, colours and joints have steps; everything else is one picture. */
function scenes({ floor }, { pattern }) {
  const positions = (wanted) => floor.panels.filter(wanted).map((panel) => panel.position);
  const whole = (name, wanted) => [{ name, lit: positions(wanted) }];
  switch (pattern.kind) {
    case "mark": return whole(`Panel ${pattern.position} marked`, (p) => p.position === pattern.position);
    case "pixel": return whole(`A pixel of ${pattern.position}`, (p) => p.position === pattern.position);
    case "panel": return whole(`Panel ${pattern.position} alone`, (p) => p.position === pattern.position);
    case "segment": return whole(`Segment ${pattern.segment} of panel ${pattern.position} alone`, (p) => p.position === pattern.position);
    case "walk": {
      const runs = pattern.run === null ? floor.runs : [floor.runs[pattern.run]];
      const wired = runs.flatMap((run) => run.panels);
      return wired.map((p, i) => ({ name: `Walk in wiring order: ${p}, ${i + 1} of ${wired.length}, run ${1 + floor.runs.findIndex((r) => r.panels.includes(p))}`, lit: [p] }));
    }
    case "run": return whole(`All of run ${pattern.run + 1}`, (p) => p.run === pattern.run);
    case "row": return whole(`Row ${pattern.row}`, (p) => p.position.endsWith(String(pattern.row)));
    case "column": return whole(`Column ${pattern.column}`, (p) => p.position.startsWith(pattern.column));
    case "node": return whole(`Node ${pattern.node}`, (p) => p.node === pattern.node);
    case "universe": return whole(`Universe ${pattern.port_address}`, (p) => p.spans.some((s) => s.port_address === pattern.port_address));
    case "colours": return ["red", "green", "blue"].map((c) => ({ name: `Every colour alone: ${c}`, lit: positions(() => true) }));
    case "joints": return floor.panels[0].segments.map((_, i) => ({ name: `Segment ${i + 1} of every panel`, lit: positions(() => true) }));
    case "labels": return whole("Labels", () => true);
    default: return whole("Everything", () => true);
  }
}

/**
 * @param {object} model a floor of mock-floor.mjs
 * @param {() => number} uptime seconds
 * @param {{ passphrase?: string | null, here?: boolean }} operator
 * @param {object} known what is known of faults, and whether the book is blank
 */
export function control(model, uptime, { passphrase = null, here = true } = {}, known = {}) {
  let on = null;
  let sessions = 0;
  let ids = 0;
  let liveVa = null;
  const open = new Set();
  const connections = new Map();
  const requests = [];

  /** First and last but one of a panel's pixels that light. */
  const part = ({ first_pixel, pixels, segments }) => {
    if (on.segment === undefined) return [first_pixel, first_pixel + pixels];
    const before = segments.slice(0, on.segment - 1).reduce((sum, count) => sum + count, first_pixel);
    return [before, before + segments[on.segment - 1]];
  };
  const step = () => {
    const { held, step_ms } = on.pace;
    return (held ?? Math.floor(((uptime() - on.since) * 1000) / step_ms)) % on.scenes.length;
  };
  const state = () => {
    if (on && uptime() >= on.ends) on = null;
    if (!on) return null;
    const scene = on.scenes[step()];
    const lit = scene.lit.filter((p) => on.covered.has(p));
    return {
      kind: on.kind, what: `${scene.name}, ${on.colour} at ${Math.round((on.level * 100) / 255)} %`, lit: lit.slice(0, 16), lit_panels: lit.length,
      covered_panels: on.covered.size, covers_all: on.covered.size === model.floor.panels.length,
      step: on.stepped ? step() : null, steps: on.stepped ? on.scenes.length : null, held: on.stepped && on.pace.held !== undefined,
      ends_with_owner: on.id !== undefined, starts_in_s: 0, since_s: uptime() - on.since, ends_in_s: on.ends - uptime(),
    };
  };
  const start = (wish) => {
    if (model.floor.watch_only) return { status: 422, error: "watch_only", message: "This floor has no nodes: it can show no pattern." };
    if (wish.ends_with !== undefined && ![...connections.values()].includes(wish.ends_with)) {
      return { status: 422, error: "not_connected", message: "the pattern is to end with a live connection that is not there" };
    }
    const covered = wish.cover === "all" ? model.floor.panels.map((p) => p.position) : wish.cover.panels;
    on = {
      kind: wish.pattern.kind, segment: wish.pattern.segment, scenes: scenes(model, wish), pace: wish.pattern.pace ?? { held: 0 }, stepped: wish.pattern.pace !== undefined,
      covered: new Set(covered), level: wish.level, colour: wish.colour, since: uptime(), ends: uptime() + wish.lasts_s, id: wish.ends_with,
    };
    return { body: { pattern: state() } };
  };
  const go = ({ by, to }) => {
    if (!state()?.steps) return { status: 422, error: "no_steps", message: "No pattern with steps is shown: start one." };
    on.pace = { held: to ?? (step() + by + on.scenes.length) % on.scenes.length };
    return { body: { pattern: state() } };
  };

  const enter = () => {
    const token = `mock-${(sessions += 1)}`;
    open.add(token);
    return { cookie: `${SESSION}=${token}; Path=/; HttpOnly; SameSite=Strict` };
  };
  const rights = (tokens) => ({
    may_control: passphrase === null ? here : tokens.some((t) => open.has(t)),
    passphrase_set: passphrase !== null,
    from_this_machine: here,
    guest: false,
    encrypted: false,
  });
  const refusal = () => passphrase === null
    ? { status: 403, error: "not_this_machine", message: "no passphrase is set, so changes are taken only from the machine that litfloor runs on" }
    : { status: 401, error: "not_signed_in", message: "sign in with the operator's passphrase first" };

  const light = { start, stop: () => (on = null), on: () => (state() ? on : null) };
  const { walks, routes: walkRoutes } = stepping(model, light);

  const pages = booked(model, known);
  const dead = faulty(model, uptime, pages.told, known);

  const routes = {
    ...walkRoutes,
    ...dead.routes,
    ...pages.routes,
    ...simulation(model),
    "GET /api/v1/session": (_, tokens) => ({ body: rights(tokens) }),
    "POST /api/v1/session": ({ passphrase: tried }) =>
      tried === passphrase ? enter() : { status: 401, error: "wrong_passphrase", message: "this is not the operator's passphrase" },
    "DELETE /api/v1/session": (_, tokens) => (tokens.forEach((t) => open.delete(t)), {}),
    "PUT /api/v1/passphrase": ({ passphrase: wanted }) => {
      if (wanted.length < 8) return { status: 422, error: "too_short", message: "a passphrase has at least 8 characters" };
      passphrase = wanted;
      open.clear();
      return enter();
    },
    "POST /api/v1/pattern": start,
    "POST /api/v1/pattern/step": go,
    "DELETE /api/v1/pattern": () => ((on = null), { body: { pattern: null } }),
    "PUT /api/v1/limit": ({ floor_va }) => {
      liveVa = floor_va;
      return { body: { floor_va } };
    },
    "POST /api/v1/calibration": ({ floor_is_clear }) => {
      if (floor_is_clear !== true) return { status: 422, error: "not_confirmed", message: "see that nobody stands on the floor, and say so" };
      if (orders.calibration === "refused") return { status: 409, error: "no_sensor", message: "No sensor of current reports: see that it sends, and try again." };
      orders.calibration = "running";
      return { status: 202 };
    },
    "DELETE /api/v1/calibration": () => ((orders.calibration = null), {}),
    "POST /api/v1/readings/token": () => ({ body: { token: "0123456789abcdef".repeat(4) } }),
    "POST /api/v1/floor/reload": () => {
      const { faults, file } = orders;
      if (faults.length > 0) {
        orders.file = { ...file, refusal: { at_s: uptime(), count: faults.length, faults } };
        return { status: 422, error: "file_refused", message: "the floor file has faults, and the floor of before goes on" };
      }
      orders.file = { ...file, taken_s: uptime(), refusal: null };
      return { body: { revision: model.floor.revision, name: model.floor.name, cautions: ["amperes are computed, not measured"] } };
    },
  };
  const free = (name) => name.startsWith("GET ") || name.endsWith("/session");

  const orders = {
    /** The floor file, and the faults that it has when it is read again. */
    file: { name: "shows/hall.toml", taken_s: 0, made_dark: [], refusal: null },
    faults: [],
    /** `running`, or `refused` if none can begin. */
    calibration: null,
    /** Changes that were asked for, `METHOD path`, oldest first. */
    requests,
    /** The stepping mode. */
    walks,
    /** What is dead, and the survey that finds it. */
    health: dead.health,
    /** The book of repairs. */
    book: pages.book,
    /** Bodies of the changes that were asked for, beside `requests`. */
    bodies: [],
    /** While this is a promise, changes wait for it. */
    hold: null,
    /** Whether changes are left without an answer, as by a network that is down. */
    drop: false,
    /** Whether they are done first, so that only the answer is lost. */
    dropReply: false,
    /** Runs when it is decided whether a page has gone for good. */
    grace: (run) => setTimeout(run, GRACE_MS).unref(),
    state,
    /** Ends every session, as a new start of the daemon does. */
    forget: () => open.clear(),
    /** The state with the live limit of the whole floor; nothing is dimmed for it. */
    limited: (state) => ({ ...state, floor: { ...state.floor, limit_va: liveVa, live_limit_va: liveVa } }),
    picture(asked) {
      const now = state();
      if (!now) return asked;
      const levels = Uint8Array.from(asked);
      const lit = new Set(on.scenes[step()].lit);
      for (const panel of model.floor.panels.filter((p) => on.covered.has(p.position))) {
        const { channels } = model;
        const shown = lit.has(panel.position) ? part(panel) : [0, 0];
        const only = ["red", "green", "blue"].indexOf(on.colour);
        for (let i = panel.first_pixel; i < panel.first_pixel + panel.pixels; i++) {
          const level = i >= shown[0] && i < shown[1] ? on.level : 0;
          for (let c = 0; c < channels; c++) levels[i * channels + c] = only < 0 || only === c ? level : 0;
        }
      }
      return levels;
    },
    came(socket, id) {
      const known = [...connections.values()].includes(id) || (on?.id === id && id !== "");
      connections.set(socket, known ? id : `id-${(ids += 1)}`);
      return connections.get(socket);
    },
    left(socket) {
      const id = connections.get(socket);
      connections.delete(socket);
      orders.grace(() => {
        if (on?.id !== undefined && on.id === id && ![...connections.values()].includes(id)) on = null;
      });
    },
    /** Answers what belongs here, and says whether it did. */
    async answer(request, response, path, headers) {
      const name = `${request.method} ${path}`;
      const route = routes[name] ?? dead.find(name) ?? pages.find(name);
      if (!route) return false;
      let text = "";
      for await (const part of request) text += part;
      const changes = request.method !== "GET";
      if (changes) {
        requests.push(name);
        orders.bodies.push(text ? JSON.parse(text) : null);
        await orders.hold;
        if (orders.drop) {
          request.socket.destroy();
          return true;
        }
      }
      const tokens = (request.headers.cookie ?? "").split(/;\s*/).map((cookie) => cookie.replace(`${SESSION}=`, ""));
      const allowed = free(name) || rights(tokens).may_control;
      const { status, cookie, body, error, message, file } = allowed ? route(text ? JSON.parse(text) : {}, tokens) : refusal();
      // What is known of faults, of a survey and by the book is looked at again when this counts up.
      if (changes && allowed) dead.health.changed();
      if (changes && orders.dropReply) {
        request.socket.destroy();
        return true;
      }
      if (file) {
        const type = file.type ?? "application/toml; charset=utf-8";
        response.writeHead(200, { ...headers, "content-type": type, ...(file.shown ? {} : { "content-disposition": `attachment; filename="${file.name}"` }) });
        response.end(file.text);
        return true;
      }
      const told = error ? { error, message } : body;
      response.writeHead(status ?? (told ? 200 : 204), {
        ...headers,
        ...(told ? { "content-type": "application/json" } : {}),
        ...(cookie ? { "set-cookie": cookie } : {}),
      });
      response.end(told ? JSON.stringify(told) : undefined);
      return true;
    },
  };
  return orders;
}
