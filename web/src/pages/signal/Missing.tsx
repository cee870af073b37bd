import type { Floor, State } from "../../api/types";
import { Card } from "../../components/Card";
import { Empty } from "../../components/Empty";
import { flatNumber, target } from "../../lib/address";
import { plural } from "../../lib/format";
import css from "./signal.module.css";

const numbered = (portAddress: string) => `${portAddress} (number ${flatNumber(portAddress) ?? "unknown"})`;

/** While nothing that the floor file maps arrives: what to set where. */
export function Missing({ floor, state }: { floor: Floor; state: State }) {
  const others = state.universes.filter((u) => !u.mapped && u.age_s !== null);
  const first = floor.universes[0];
  const listens = `The floor listens to ${plural(floor.universes.length, "universe")}${first ? `, the first is ${numbered(first.port_address)}` : ""}.`;
  const other = others[0];
  if (!other) {
    if (state.signal !== "waiting") return null;
    return (
      <Card title="Waiting for the console">
        <Empty icon="wait" title="Nothing has arrived yet">
          Set the console's Art-Net target to {target(state.artnet, location.hostname)}. {listens}
        </Empty>
      </Card>
    );
  }
  return (
    <Card title="Only universes that the floor file does not map">
      <p>
        <strong>Counting from 0 or from 1?</strong> {plural(others.length, "other universe")}{" "}
        {others.length === 1 ? "arrives" : "arrive"}, the first is {numbered(other.port_address)}
        {other.sources[0] ? ` from ${other.sources[0].address}` : ""}. {listens}
      </p>
      <p class={css.lead}>
        If the numbers differ by one, one side counts from 1 and the other from 0: change the console's start universe
        by one, or the floor file. Art-Net target: {target(state.artnet, location.hostname)}.
      </p>
    </Card>
  );
}
