/** The mock's simulated faults: remembers what is broken, and draws nothing else from it. */
const POSSIBLE = ["supply_open", "supply_resistive", "data_open", "data_frozen", "link_open", "loose", "weak", "stuck", "node_restarts", "none"];
const WHOLE = ["link_open", "node_restarts"];

/** @param {object} model a floor of mock-floor.mjs, whose pixels are told apart: no colour has a wire of its own */
export function simulation({ floor }) {
  const broken = new Map();
  const real = { status: 404, error: "not_simulated", message: "this floor is real: only the floor of `litfloor demo` can be broken here" };
  const state = () => ({ body: { broken: [...broken.values()], possible: POSSIBLE } });
  const refused = (error, message) => ({ status: 422, error, message });
  // A loose joint is open at every other look.
  const look = () => {
    for (const one of broken.values()) if (one.fault === "loose") one.acts = !one.acts;
    return state();
  };
  return {
    "GET /api/v1/simulation": () => (floor.simulated ? look() : real),
    "POST /api/v1/simulation": ({ position, segment, fault }) => {
      if (!floor.simulated) return real;
      const panel = floor.panels.find((it) => it.position === position);
      // This floor's strip is fed from its start alone.
      if (!panel || segment < 1 || segment > panel.segments.length) {
        return refused("no_such_joint", `${position} has no such joint before segment ${segment}`);
      }
      if (WHOLE.includes(fault) && segment !== 1) return refused("no_such_joint", `that is about ${position} as a whole: name segment 1`);
      if (fault === "colour_open") return refused("not_like_that", `${position} has no wire for one colour alone: only analogue strip has`);
      const key = `${position} ${segment}`;
      broken.delete(key);
      if (fault !== "none") broken.set(key, { position, segment, fault, colour: null, acts: true });
      return state();
    },
  };
}
