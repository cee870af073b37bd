/** The mock's stepping mode: a walk of five questions that were thought up, whatever is answered, and what it found. */

const SIDE = 11;

/**
 * A panel of `stage()` with its first pixel, a stretch after it and its rest marked.
 * @param {{ turns?: number, colours?: string[] }} how quarter turns, and the colours of the three parts
 */
export function marked(model, position, { turns = 0, colours = ["red", "blue", "green"] } = {}) {
  const { first_pixel, pixels } = model.floor.panels.find((p) => p.position === position);
  const lights = Array.from({ length: pixels }, (_, i) => {
    // The pixels lie in a ring, so a turn moves on by a side of it.
    const place = first_pixel + ((i + turns * SIDE) % pixels);
    const part = i === 0 ? 0 : i <= SIDE ? 1 : 2;
    return { position, x_mm: model.xy[2 * place], y_mm: model.xy[2 * place + 1], colour: colours[part] };
  });
  return { lights };
}

/** A run that begins later: the end of one panel and the beginning of the next. */
export function astride(model, one, other) {
  const [a, b] = [marked(model, one), marked(model, other)];
  return { lights: [...a.lights.slice(SIDE), ...b.lights.slice(0, SIDE)] };
}

const LIGHTS = ["red", "green", "blue", "white"];

/** One of every kind of question; `at` is the panel whose slots are lit. */
export function script(model) {
  const one = "Does the floor look exactly so?";
  const several = "Which of these does the floor look like?";
  return [
    { at: "A1", done: 0, ask: "look", text: one, drawings: [marked(model, "A1")], near: null },
    {
      at: "B1", done: 1, ask: "look", text: several, near: null,
      drawings: [
        marked(model, "B1", { turns: 1 }), marked(model, "B1", { turns: 2 }), marked(model, "B1", { colours: ["green", "blue", "red"] }),
        marked(model, "C2"), astride(model, "B1", "C1"),
      ],
    },
    { at: "C1", done: 2, ask: "tap", text: "One pixel lights. Tap it.", drawings: [], near: "C1" },
    { at: "D1", done: 30, ask: "colour", text: "Which colour does it light in, most of it?", drawings: [], near: null },
    { at: "E1", done: 48, ask: "look", text: "Does anything light? If so, tap where.", drawings: [], near: null },
  ];
}

const FOUND = {
  differences: [
    { what: "swapped", text: "The panels at B1 and C2 are swapped.", positions: ["B1", "C2"], run: null, evidence: ["The slots of B1 lit C2 as drawn."] },
    { what: "shifted", text: "The run on left wing port 1 from 0:0:0/1 begins at slot 13, not 1: it is shifted by +12 slots.", positions: [], run: 0, evidence: ["The slots of C1 lit C1, and not as drawn."] },
    { what: "colours", text: "Pixels of kind 12 V group have their slots in the order GRB, not RGB.", positions: [], run: null, evidence: ["The slots of D1 for red lit green."] },
    { what: "dark", text: "The panel at E1 stays dark. Look at its data and power wires; the file is left as it is.", positions: ["E1"], run: null, evidence: ["The slots of E1 lit nothing."] },
  ],
  otherwise: ["The panels at B1 and C2 are swapped. The panel at C2 lies turned by 270°, not by 90°, as planned."],
  cautions: ["Light does not show which fuse feeds a panel. B1 and C2 are swapped and belong to the feeds L1 and L2: see which fuse each really hangs on, and correct `positions` of the feeds if it moved along. The limits go by them."],
};

const DIFF = `--- floor.toml\tas it is
+++ floor.toml\tcorrected
@@ -14,7 +14,7 @@
 [[pixel]]
 name = "12 V group"
-slots = "RGB"
+slots = "GRB"
 volts = 12
 idle_ma = 0.9
 full_ma = { red = 12, green = 12, blue = 12 }
@@ -41,9 +41,9 @@
 # The left wing, laid from the stage outwards; its first cable is the long grey one.
 [[run]]
 node = "left wing"
 port = 1
 start = "0:0:0"
-slot = 1
-panels = ["A1", "B1", "C1", "D1", "A2", "B2", "C2", "D2", "E2", "A3", "B3", "C3", "A4", "B4", "C4", "D4", "E4"]
+slot = 13
+panels = ["A1", "C2", "C1", "D1", "A2", "B2", "B1", "D2", "E2", "A3", "B3", "C3", "A4", "B4", "C4", "D4", "E4"]
`;

const MAY = { look: ["drawing", "panel", "nothing"], tap: ["point", "nothing"], colour: ["colour", "nothing"] };
const refusal = (status, error, message) => ({ status, error, message });
const MOVED_ON = refusal(409, "question_moved_on", "that question is no longer open");
const NONE = { differences: [], otherwise: [], cautions: [] };

/**
 * @param {object} model a floor of mock-floor.mjs
 * @param {{ start(order: object): object, stop(): void, on(): object | null }} light shows a pattern, ends it, and tells the one that is on
 */
export function stepping(model, light) {
  const walks = {
    /** The questions; may be replaced before a walk begins. */
    script: script(model),
    /** What a walk finds in the end. */
    found: FOUND,
    /** Whether other answers meanwhile are told to wait. */
    thinking: false,
    /** The floor was replaced since. */
    outdated: false,
    /** Why the file can't be corrected, as `{ error, message }`. */
    unamended: null,
    /** Answers that were taken, oldest first. */
    answers: [],
  };
  let begun = null;
  let mine = null;

  const question = () => (walks.outdated ? null : (walks.script[walks.answers.length] ?? null));
  const shown = () => {
    if (!begun) return { walk: null };
    const open = question();
    const number = walks.answers.length;
    const panels = model.floor.panels.length;
    const done = open?.done ?? (walks.outdated ? walks.script[number]?.done : undefined) ?? panels;
    const { at, done: _, ...asked } = open ?? {};
    return {
      walk: {
        revision: model.floor.revision, outdated: walks.outdated, question: open && { number, ...asked, progress: undefined },
        lit: open !== null && light.on() !== null && light.on() === mine, colours: LIGHTS, answers: number,
        progress: { done, panels, taps: number },
        report: number === 0 ? NONE : open && walks.found.differences.length > 0 ? { ...NONE, differences: walks.found.differences.slice(0, 1) } : walks.found,
      },
    };
  };
  const show = (ends_with = begun.ends_with) => {
    const open = question();
    if (!open) {
      if (light.on() === mine) light.stop();
      return null;
    }
    const kind = { look: "mark", tap: "pixel", colour: "panel" }[open.ask];
    const refused = light.start({ pattern: { kind, position: open.at }, cover: "all", level: begun.level, colour: "white", lasts_s: 3600, ...(ends_with ? { ends_with } : {}) });
    mine = light.on();
    return refused.error ? refused : null;
  };
  const after = (refused) => refused ?? { body: shown() };

  const routes = {
    "GET /api/v1/stepping": () => ({ body: shown() }),
    "POST /api/v1/stepping": ({ level = 128, ends_with, again }) => {
      if (model.floor.watch_only) return refusal(422, "only_watched", "a floor without nodes is only watched");
      if (begun && !again) return refusal(409, "walk_under_way", "a walk is under way");
      begun = { level, ends_with };
      walks.answers.length = 0;
      walks.outdated = false;
      return after(show());
    },
    "POST /api/v1/stepping/answer": ({ number, answer }) => {
      if (!begun) return refusal(409, "no_walk", "no walk is under way");
      if (walks.thinking) return refusal(409, "thinking", "the last answer is still thought about");
      if (number !== walks.answers.length || !question()) return MOVED_ON;
      if (!MAY[question().ask].includes(answer.kind)) return refusal(422, "not_an_answer", "That is no answer to the question that is open.");
      walks.answers.push(answer);
      return after(show());
    },
    "POST /api/v1/stepping/undo": ({ number }) => {
      if (!begun) return refusal(409, "no_walk", "no walk is under way");
      if (number !== walks.answers.length) return MOVED_ON;
      if (number === 0) return refusal(422, "nothing_to_undo", "there is no answer to take back");
      walks.answers.pop();
      return after(show());
    },
    "POST /api/v1/stepping/light": ({ ends_with }) => after(begun ? show(ends_with) : refusal(409, "no_walk", "no walk is under way")),
    "DELETE /api/v1/stepping": () => {
      if (light.on() === mine) light.stop();
      begun = null;
      walks.answers.length = 0;
      return { body: shown() };
    },
    "GET /api/v1/stepping/corrected": () => {
      if (!begun) return refusal(409, "no_walk", "no walk is under way");
      if (walks.unamended) return { status: 422, ...walks.unamended };
      return { body: { name: "floor.toml", text: TEXT, diff: DIFF } };
    },
    "GET /api/v1/stepping/corrected.toml": () => ({ file: { name: "floor-corrected.toml", text: TEXT } }),
  };
  return { walks, routes };
}

/** What is saved; only that it arrives is looked at. */
export const TEXT = '[[pixel]]\nname = "12 V group"\nslots = "GRB"\n';
