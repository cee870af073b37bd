/** The mock's book of repairs: faults and their steps, panels and their history, where each lies, labels. */

const AT = "2026-11-27T09:30:00Z";
const now = () => new Date().toISOString();

/**
 * @param {object} model a floor of mock-floor.mjs
 * @param {{ blank?: boolean }} options `blank`: nothing was ever written
 */
export function book(model, { blank = false } = {}) {
  const { floor } = model;
  const faults = [];
  const extra = new Map();
  const placed = new Map(blank ? [] : floor.panels.slice(0, floor.panels.length - 6).map((panel) => [panel.position, panel.serial]));
  const serials = () => [...new Set([...(blank ? [] : floor.panels.map((panel) => panel.serial)), ...placed.values(), ...extra.keys()])];
  const lies = (serial) => [...placed].find(([, one]) => one === serial)?.[0] ?? null;
  const of = (serial) => {
    if (!extra.has(serial)) extra.set(serial, { benches: [], notes: [], positions: [] });
    return extra.get(serial);
  };
  let ids = 0;
  const found = (fault) => {
    if (faults.some((row) => row.key === fault.key && row.open)) return;
    faults.push({
      id: (ids += 1), key: fault.key, serial: fault.serial, position: fault.position, cause: fault.cause, place: fault.place, text: fault.effect, sure: fault.sure,
      state: "found", found_at: now(), steps: [{ state: "found", at: now(), who: "litfloor", note: "", evidence: fault.evidence[0]?.text ?? null }], open: true,
    });
  };
  const proved = (position) => {
    for (const row of faults.filter((one) => one.open && one.position === position && one.state === "repaired")) {
      row.state = "proved";
      row.open = false;
      row.steps.push({ state: "proved", at: now(), who: "litfloor", note: "", evidence: "a survey found the place good" });
    }
  };
  if (!blank) {
    Object.assign(of("M017"), {
      benches: [
        { at: "2026-11-26T16:12:00Z", passed: false, who: "Ida", note: "Not right: segment 4.", signature: null },
        { at: AT, passed: true, who: "Ida", note: "", signature: { dark_a: 0.041, red_a: 0.51, green_a: 0.49, blue_a: 0.5, white_a: 1.43 } },
      ],
      notes: [{ at: AT, who: "Ida", text: "New plug on the supply side." }],
    });
    faults.push({
      id: (ids += 1), key: "H6/1/segment_dead", serial: "M017", position: "H6", cause: "segment_dead", place: "H6, segment 1", text: "Segment 1 is dark.", sure: "certain", state: "proved", found_at: "2026-11-26T10:00:00Z",
      steps: [
        { state: "found", at: "2026-11-26T10:00:00Z", who: "litfloor", note: "", evidence: "Survey 3 found it dead." },
        { state: "being_repaired", at: "2026-11-26T10:20:00Z", who: "Ida", note: "", evidence: null },
        { state: "repaired", at: "2026-11-26T10:31:00Z", who: "Ida", note: "cold joint, soldered again", evidence: null },
        { state: "proved", at: "2026-11-26T10:40:00Z", who: "litfloor", note: "", evidence: "Survey 4 found it good." },
      ],
      open: false,
    }, {
      id: (ids += 1), key: "hand/1", serial: "M005", position: "E1", cause: "reported", place: "E1", text: "The plate is cracked in one corner.", sure: "certain", state: "found", found_at: AT,
      steps: [{ state: "found", at: AT, who: "Noor", note: "", evidence: null }], open: true,
    });
  }

  const panel = (serial) => {
    if (!serials().includes(serial)) return { status: 404, error: "no_such_panel", message: `The book knows no panel ${serial}.` };
    const at = lies(serial);
    const { benches, notes, positions } = extra.get(serial) ?? { benches: [], notes: [], positions: [] };
    const first = at === null ? [] : [{ position: at, from: AT, to: null, who: "Ida" }];
    return { body: { serial, position: at, positions: positions.length > 0 ? positions : first, benches, faults: faults.filter((row) => row.serial === serial), notes } };
  };
  const step = (id, { state, who, note }) => {
    const row = faults.find((one) => one.id === id);
    if (!row) return { status: 404, error: "no_such_fault", message: "The book has no such fault." };
    if (!who) return { status: 422, error: "nobody", message: "Say who does it." };
    row.state = state;
    row.open = state !== "dismissed";
    row.steps.push({ state, at: now(), who, note: note ?? "", evidence: null });
    return { body: row };
  };
  const write = ({ serial = null, position = null, text, who }) => {
    const at = position ?? lies(serial);
    const row = {
      id: (ids += 1), key: `hand/${ids}`, serial: serial ?? placed.get(position) ?? null, position: at, cause: "reported", place: at ?? serial, text, sure: "certain", state: "found",
      found_at: now(), steps: [{ state: "found", at: now(), who, note: "", evidence: null }], open: true,
    };
    faults.push(row);
    return { body: row };
  };
  const place = ({ serial, position, who }) => {
    if (!floor.panels.some((one) => one.position === position)) return { status: 422, error: "no_such_position", message: `There is no position ${position} on this floor.` };
    const before = lies(serial);
    if (before !== null) placed.delete(before);
    placed.set(position, serial);
    of(serial).positions.push({ position, from: now(), to: null, who });
    return { body: { position, serial } };
  };
  const checklist = () => ({
    unplaced: serials().filter((serial) => lies(serial) === null),
    silent: blank ? [] : ["M003"],
    changed: blank ? [] : [{ serial: "M010", position: lies("M010") ?? "–", was: "white 1.43 A", is: "white 0.98 A" }],
    placed: [...placed].map(([position, serial]) => ({ position, serial })),
  });
  /** A run that has a serial in the file, or a panel placed, has one for each of its panels. */
  const lacking = () => {
    const free = (position) => !placed.has(position);
    const named = (position) => floor.panels.find((panel) => panel.position === position).serial;
    const partly = floor.runs.filter(({ panels }) => panels.some((at) => !free(at) || (!blank && named(at))));
    const at = partly.flatMap(({ panels }) => panels.filter(free));
    if (at.length === 0) return null;
    return { status: 409, error: "not_all_placed", message: `A run has a serial for each of its panels, or none: nothing is placed yet at ${at.join(", ")}.` };
  };
  const moved = () => [...placed].filter(([position, serial]) => floor.panels.find((one) => one.position === position).serial !== serial);
  const diff = () => moved().map(([position, serial], at) => `@@ -${10 + at},1 +${10 + at},1 @@\n-${position} = "${floor.panels.find((one) => one.position === position).serial}"\n+${position} = "${serial}"`).join("\n");
  const label = (serial) =>
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 29 29" shape-rendering="crispEdges"><path fill="#fff" d="M0 0h29v29H0z"/><path d="${[...`${serial}litfloor`.repeat(40)].slice(0, 400).flatMap((c, i) => ((c.charCodeAt(0) * (i + 7) * 31) % 7 < 3 ? [`M${4 + (i % 21)} ${4 + Math.floor(i / 21)}h1v1h-1z`] : [])).join("")}"/></svg>`;

  const routes = {
    "GET /api/v1/book/faults": () => ({ body: faults }),
    "POST /api/v1/book/faults": write,
    "GET /api/v1/book/panels": () => ({
      body: serials().map((serial) => {
        const { benches = [] } = extra.get(serial) ?? {};
        const last = benches[benches.length - 1];
        return { serial, position: lies(serial), open_faults: faults.filter((row) => row.open && row.serial === serial).length, last_bench: last ? { at: last.at, passed: last.passed } : null };
      }),
    }),
    "GET /api/v1/book/checklist": () => ({ body: checklist() }),
    "POST /api/v1/book/placed": place,
    "GET /api/v1/book/diff": () => lacking() ?? { body: { diff: diff() } },
    "GET /api/v1/book/floor.toml": () => lacking() ?? { file: { name: "floor.toml", text: "# as placed\n" } },
    "GET /api/v1/book/export.csv": () => ({ file: { name: "book.csv", type: "text/csv", text: "id,place,state\n" } }),
  };
  const patterns = [
    [/^GET \/api\/v1\/book\/panels\/([^/]+)$/, (serial) => panel(serial)],
    [/^POST \/api\/v1\/book\/panels\/([^/]+)\/notes$/, (serial, { text, who }) => (of(serial).notes.push({ at: now(), who, text }), { body: {} })],
    [/^POST \/api\/v1\/book\/panels\/([^/]+)\/bench$/, (serial, wish) => (of(serial).benches.push({ at: now(), ...wish }), { body: {} })],
    [/^POST \/api\/v1\/book\/faults\/(\d+)$/, (id, wish) => step(Number(id), wish)],
    [/^DELETE \/api\/v1\/book\/placed\/([^/]+)$/, (position) => (placed.delete(position), {})],
    [/^GET \/api\/v1\/labels\/([^/]+)\.svg$/, (serial) => ({ file: { name: "label.svg", type: "image/svg+xml", text: label(serial), shown: true } })],
  ];
  return {
    routes,
    find: (name) => {
      for (const [pattern, run] of patterns) {
        const match = pattern.exec(name);
        if (match) return (wish) => run(decodeURIComponent(match[1]), wish);
      }
      return undefined;
    },
    told: { found, proved },
    book: { faults, placed, of, panel },
  };
}
