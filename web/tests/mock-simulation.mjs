/** The mock's simulated joints: remembers what is broken, and draws nothing else from it. */
const POSSIBLE = ["supply_open", "supply_resistive", "data_open", "data_frozen", "colour_open", "loose", "none"];

/** @param {object} model a floor of mock-floor.mjs */
export function simulation({ floor }) {
  const broken = new Map();
  const real = { status: 404, error: "not_simulated", message: "this floor is real: only the floor of `litfloor demo` can be broken here" };
  const state = () => ({ body: { broken: [...broken.values()], possible: POSSIBLE } });
  return {
    "GET /api/v1/simulation": () => (floor.simulated ? state() : real),
    "POST /api/v1/simulation": ({ position, segment, fault, colour }) => {
      if (!floor.simulated) return real;
      const panel = floor.panels.find((it) => it.position === position);
      // This floor's strip is fed from its start alone.
      if (!panel || segment < 1 || segment > panel.segments.length) {
        return { status: 422, error: "no_such_joint", message: `${position} has no such joint before segment ${segment}` };
      }
      const key = `${position} ${segment}`;
      broken.delete(key);
      const lost = fault === "colour_open" ? (colour ?? "green") : null;
      if (fault !== "none") broken.set(key, { position, segment, fault, colour: lost, acts: true });
      return state();
    },
  };
}
