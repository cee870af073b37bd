/** The mock's knowledge of what is dead: examples of faults, reports of people, and a survey that finds what was broken. */

const segmentsOf = (panel) => panel.segments.length;
const UNKNOWN = { condition: "unknown", share: null, doubt: 1, colours_out: [], age_s: null };

/** Faults of several kinds, in walking order, on a floor that has these panels. */
function examples({ floor }) {
  const has = (position) => floor.panels.find((panel) => panel.position === position);
  const fault = (position, more) => {
    const panel = position === null ? null : has(position);
    if (position !== null && !panel) return [];
    return [{ position, serial: panel?.serial ?? null, segments: [], behind: [], alternatives: [], here: more.chance, same_place: [], ...more }];
  };
  return [
    ...fault("B1", {
      key: "B1/3/segment_weak", cause: "segment_weak", place: "B1, segment 3", effect: "Segment 3 draws 54 % of its current and is dim.", segments: [3],
      sure: "likely", chance: 0.944, alternatives: ["a resistive joint between segments 2 and 3"], since: 30,
      evidence: [{ id: 1, kind: "survey", text: "Survey 1 found it at 54 % of its current.", seen: 30, can_withdraw: false }],
    }),
    ...fault("C4", {
      key: "C4/2-3/supply_open", cause: "supply_open", place: "C4, joint between segments 2 and 3, supply side", effect: "Segments 3 and 4 are dark.", segments: [3, 4],
      sure: "certain", chance: 0.9997, since: 240,
      evidence: [
        { id: 2, kind: "survey", text: "Survey 1 found segments 3 and 4 dead, 1 and 2 good.", seen: 240, can_withdraw: false },
        { id: 3, kind: "report", text: "Somebody says that segment 3 is dark.", seen: 500, can_withdraw: true },
      ],
    }),
    ...fault("G2", {
      key: "G2/data_open", cause: "data_open", place: "Data between F2 and G2", effect: "G2 and what lies behind it stay dark or keep their last picture.", segments: [1, 2, 3, 4],
      behind: ["H2", "I2"], sure: "possible", chance: 0.61, alternatives: ["the first chip of G2 is dead", "its port is switched off"], since: 12,
      evidence: [{ id: 4, kind: "show", text: "Since a step of −1.9 A at feed R1, twelve segments draw nothing.", seen: 3, can_withdraw: false }],
    }),
    ...fault(null, {
      key: "node/right wing/restarted", cause: "node_restarted", place: "Node right wing", effect: "It began anew, 40 s ago; its panels were dark for 2 s.",
      sure: "certain", chance: 1, since: 40, evidence: [{ id: 5, kind: "node", text: "Its counter of replies began again at 1.", seen: 40, can_withdraw: false }],
    }),
  ];
}

/**
 * @param {object} model a floor of mock-floor.mjs
 * @param {() => number} uptime seconds
 * @param {object} told what the book is told: `found(fault)` and `proved(position)`
 * @param {{ known?: "some" | "nothing" | "good" }} options what is known at the beginning
 */
export function faults(model, uptime, told, { known = "some" } = {}) {
  const { floor } = model;
  const panels = new Map(floor.panels.map((panel) => [panel.position, panel]));
  let version = 1;
  let ids = 100;
  let list = known === "some" ? examples(model) : [];
  const begun = uptime();
  list.forEach((fault) => told.found(fault));

  const conditions = new Map();
  const set = (position, segment, condition, share = null, doubt = 0.0004) =>
    conditions.set(`${position}/${segment}`, { condition, share, doubt, colours_out: [], at: uptime() });
  const tellGood = () => {
    for (const panel of floor.panels) for (let s = 1; s <= segmentsOf(panel); s++) set(panel.position, s, "good", 1);
  };
  if (known !== "nothing") tellGood();
  if (known === "some") {
    set("B1", 3, "weak", 0.54);
    for (const s of [3, 4]) set("C4", s, "dead", 0);
    for (const at of ["G2", "H2", "I2"]) for (let s = 1; s <= 4; s++) set(at, s, "dead", 0, 0.39);
    for (let s = 1; s <= 4; s++) conditions.delete(`A6/${s}`);
    set("E5", 2, "stuck", 0.3);
  }

  const health = () => ({
    revision: floor.revision,
    uptime_s: uptime(),
    surveys: 0,
    faults: list.map(({ since, evidence, ...fault }) => ({
      ...fault,
      since_s: begun - since,
      evidence: evidence.map(({ seen, ...piece }) => ({ ...piece, age_s: uptime() - begun + seen })),
    })),
    panels: floor.panels.map((panel) => ({
      position: panel.position,
      segments: panel.segments.map((_, at) => {
        const found = conditions.get(`${panel.position}/${at + 1}`);
        if (!found) return UNKNOWN;
        const { at: when, ...rest } = found;
        return { ...rest, age_s: uptime() - when };
      }),
      faults: list.filter((fault) => fault.position === panel.position || fault.behind.includes(panel.position)).map(({ key }) => key),
      pressed: panel.position === "C4" ? [2] : [],
    })),
  });
  const refused = (status, error, message) => ({ status, error, message });
  const changed = () => (version += 1);

  const report = ({ position, segment, says }) => {
    const panel = panels.get(position);
    if (!panel) return refused(422, "no_such_panel", `There is no panel ${position} on this floor.`);
    if (segment !== null && (segment < 1 || segment > segmentsOf(panel))) return refused(422, "no_such_segment", `Panel ${position} has no segment ${segment}.`);
    changed();
    const place = segment === null ? position : `${position}, segment ${segment}`;
    const piece = { id: (ids += 1), kind: "report", text: `Somebody says of ${place}: ${says.replace("_", " ")}.`, seen: begun - uptime(), can_withdraw: true };
    const own = list.find((fault) => fault.position === position);
    if (own) own.evidence.push(piece);
    else if (says !== "fine_now") {
      const fault = {
        key: `${place}/reported`, cause: "reported", place, effect: `It ${says === "dark" ? "is dark" : says === "flickers" ? "flickers" : "has a wrong colour"}.`, position, serial: panel.serial,
        segments: segment === null ? [] : [segment], behind: [], sure: "possible", chance: 0.5, here: 0.5, same_place: [], alternatives: [], evidence: [piece], since: begun - uptime(),
      };
      list.push(fault);
      told.found(fault);
    }
    return { body: health() };
  };
  const withdraw = (id) => {
    const pieces = list.flatMap((fault) => fault.evidence);
    if (!pieces.some((piece) => piece.id === id && piece.can_withdraw)) return refused(404, "no_such_evidence", "This evidence is no longer there, or nobody can withdraw it.");
    changed();
    list.forEach((fault) => (fault.evidence = fault.evidence.filter((piece) => piece.id !== id)));
    list = list.filter((fault) => fault.evidence.length > 0);
    return { body: health() };
  };

  const { surveys, routes } = surveying(model, uptime, { changed, conditions, set, told, list: () => list, replace: (next) => (list = next) });

  return {
    routes: { ...routes, "GET /api/v1/faults": () => ({ body: health() }), "POST /api/v1/reports": report },
    find: (name) => {
      const [, id] = /^DELETE \/api\/v1\/evidence\/(\d+)$/.exec(name) ?? [];
      return id && (() => withdraw(Number(id)));
    },
    health: {
      surveys,
      /** Counts up when something has changed. */
      version: () => version,
      changed,
      faults: () => list,
    },
  };
}

/** A survey whose end is known beforehand: `broken` names what it finds, such as `C4/3`. */
function surveying(model, uptime, { changed, conditions, set, told, list, replace }) {
  const { floor } = model;
  const LASTS_S = 12;
  const QUESTIONS = 3;
  const surveys = {
    broken: new Set(["C4/3", "C4/4", "F5/1"]),
    /** Share that is done; null: it goes by time. */
    done: null,
    on: null,
    ended: 0,
    last: null,
    refuse: null,
    /** Whether readings come that fit nothing. */
    doubtful: false,
    wishes: [],
  };
  const items = (positions) =>
    floor.panels.filter((panel) => !positions || positions.includes(panel.position)).flatMap((panel) => panel.segments.map((_, at) => ({ position: panel.position, segment: at + 1 })));
  // Multiplied with a prime, so that the map fills in all over.
  const scattered = (list) => list.map((item, at) => ({ item, order: (at * 7919) % list.length })).sort((a, b) => a.order - b.order).map(({ item }) => item);
  const share = () => surveys.done ?? Math.min(1, (uptime() - surveys.on.since) / LASTS_S);
  const broken = ({ position, segment }) => surveys.broken.has(`${position}/${segment}`);
  const segment = (condition) => ({ condition, share: condition === "unknown" ? null : condition === "good" ? 1 : 0, doubt: condition === "unknown" ? 1 : 0.0006, colours_out: [] });
  const mapOf = (known) => floor.panels.map((panel) => ({
    position: panel.position,
    segments: panel.segments.map((_, at) => segment(known.get(`${panel.position}/${at + 1}`) ?? "unknown")),
  }));
  const lights = (all) => Array.from({ length: QUESTIONS }, (_, k) => all.filter((_, at) => ((at >> k) & 1) === 0));

  const end = (ended, text, dead, known) => {
    const { by, since, all } = surveys.on;
    surveys.on = null;
    surveys.ended += 1;
    const asWords = dead.length === 0 ? "no dead segment" : dead.length === 1 ? "1 dead segment" : `${dead.length} dead segments`;
    surveys.last = {
      by, spent_s: uptime() - since, decided: known.size, items: all.length, map: mapOf(known),
      outcome: { ended, text: `${text} Found ${asWords}.${surveys.doubtful ? " But the readings differ more from what was found than chance lets them." : ""}`, dead: dead.map((item) => ({ ...item, colour: null })), weak: [], stuck: [], unknown: all.length - known.size, left_out: [], misfit: surveys.doubtful ? 87.5 : 1, doubtful: surveys.doubtful },
    };
    if (ended === "decided") learn(all, dead);
    changed();
  };
  const learn = (all, dead) => {
    const isDead = ({ position, segment }) => dead.some((item) => item.position === position && item.segment === segment);
    all.forEach((item) => set(item.position, item.segment, isDead(item) ? "dead" : "good", isDead(item) ? 0 : 1));
    const surveyed = new Set(all.map(({ position }) => position));
    const lit = (fault) => fault.position !== null && surveyed.has(fault.position) && !dead.some(({ position }) => position === fault.position);
    list().filter(lit).forEach((fault) => told.proved(fault.position));
    surveyed.forEach((position) => !dead.some((item) => item.position === position) && told.proved(position));
    const rest = list().filter((fault) => !lit(fault));
    const fresh = [...new Set(dead.map(({ position }) => position))].filter((position) => !rest.some((fault) => fault.position === position));
    const found = fresh.map((position) => {
      const own = dead.filter((item) => item.position === position).map((item) => item.segment);
      const panel = floor.panels.find((one) => one.position === position);
      return {
        key: `${position}/${own.join("-")}/segment_dead`, cause: "segment_dead", place: `${position}, segment ${own.join(" and ")}`, effect: `Segment ${own.join(" and ")} is dark.`,
        position, serial: panel.serial, segments: own, behind: [], sure: "certain", chance: 0.9994, here: 0.9994, same_place: [], alternatives: [], since: 0,
        evidence: [{ id: 1000 + surveys.ended, kind: "survey", text: `Survey ${surveys.ended} found it dead.`, seen: 0, can_withdraw: false }],
      };
    });
    found.forEach((fault) => told.found(fault));
    replace([...rest, ...found]);
  };
  const state = () => {
    const on = surveys.on;
    if (on && on.by === "sensors" && share() >= 1) {
      const known = new Map(on.all.map((item) => [`${item.position}/${item.segment}`, broken(item) ? "dead" : "good"]));
      end("decided", "Every segment is decided.", on.all.filter(broken), known);
    }
    if (!surveys.on) {
      const { last } = surveys;
      return { running: false, by: last?.by ?? null, revision: floor.revision, pattern: 0, decided: last?.decided ?? 0, items: last?.items ?? 0, spent_s: last?.spent_s ?? 0, left_s: null, map: last?.map ?? [], outcome: last?.outcome ?? null, question: null, ended: surveys.ended };
    }
    const eyes = on.by === "eyes";
    const decided = eyes ? 0 : Math.floor(share() * on.all.length);
    const known = new Map(scattered(on.all).slice(0, decided).map((item) => [`${item.position}/${item.segment}`, broken(item) ? "dead" : "good"]));
    const lit = eyes ? lights(on.all)[on.answers.length] : [];
    return {
      running: true, by: on.by, revision: floor.revision, pattern: eyes ? on.answers.length + 1 : 1 + Math.floor(share() * 60), decided, items: on.all.length,
      spent_s: uptime() - on.since, left_s: eyes || share() < 0.05 ? null : (1 - share()) * LASTS_S, map: mapOf(known), outcome: null,
      question: eyes ? { number: on.answers.length + 1, total: QUESTIONS, lit, text: "Look at the floor. Tap what should be lit and is dark." } : null, ended: surveys.ended,
    };
  };
  const refused = (status, error, message) => ({ status, error, message });
  const begin = (wish) => {
    surveys.wishes.push(wish);
    if (surveys.refuse) return refused(422, "no_survey", surveys.refuse);
    if (surveys.on) return refused(409, "survey_under_way", "A survey is under way: stop it first.");
    surveys.on = { by: wish.by, since: uptime(), all: items(wish.positions), answers: [] };
    changed();
    return { body: state() };
  };
  const stop = () => {
    if (surveys.on) end("stopped", "The survey was stopped.", [], new Map());
    return { body: state() };
  };
  const seen = ({ number, dark }) => {
    const on = surveys.on;
    if (!on || number !== on.answers.length + 1) return refused(409, "not_open", "That question is not open: look again.");
    on.answers.push(dark);
    changed();
    if (on.answers.length === QUESTIONS) {
      const all = lights(on.all).flat();
      const known = new Map(all.map((item) => [`${item.position}/${item.segment}`, "good"]));
      const dead = [...new Map(on.answers.flat().map((item) => [`${item.position}/${item.segment}`, item])).values()];
      dead.forEach((item) => known.set(`${item.position}/${item.segment}`, "dead"));
      end("decided", "Every light was answered.", dead, known);
    }
    return { body: state() };
  };
  const undo = ({ number }) => {
    const on = surveys.on;
    if (!on || number !== on.answers.length + 1) return refused(409, "not_open", "That question is not open: look again.");
    if (on.answers.length === 0) return refused(409, "nothing_answered", "Nothing was answered yet.");
    on.answers.pop();
    changed();
    return { body: state() };
  };
  return {
    surveys,
    routes: {
      "GET /api/v1/survey": () => ({ body: state() }),
      "POST /api/v1/survey": begin,
      "DELETE /api/v1/survey": stop,
      "POST /api/v1/survey/seen": seen,
      "POST /api/v1/survey/undo": undo,
    },
  };
}
