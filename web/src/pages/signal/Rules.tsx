import type { Floor } from "../../api/types";
import { Card } from "../../components/Card";
import { Icon } from "../../components/Icon";
import table from "../../components/table.module.css";
import { Fact } from "../floor/Fact";
import css from "./signal.module.css";

/** What the floor file says of the signal. */
export function Rules({ floor }: { floor: Floor }) {
  const { merge, lost_after_s, when_lost, fade_s, when_ended } = floor.signal;
  return (
    <Card title="Rules of the floor file">
      <dl class={css.rules}>
        <Fact name="Two sources">
          {merge === "ltp" ? "the latest takes precedence" : "the highest level takes precedence"}
        </Fact>
        <Fact name="Counts as lost">{`after ${lost_after_s} s of silence`}</Fact>
        <Fact name="Then">
          {when_lost === "fade" ? `fades to black in ${fade_s} s` : "holds the last picture"}
        </Fact>
        {!floor.watch_only && (
          <Fact name="When litfloor is told to end">{when_ended === "dark" ? "all is made dark" : "nodes keep what they show"}</Fact>
        )}
        {!floor.watch_only && (
          <Fact name="Delivery reckoned with">
            {`of ${floor.delivery.copies} datagrams in a row one arrives, none later than ${floor.delivery.late_ms} ms`}
          </Fact>
        )}
      </dl>
      <p class={css.caution} role="note">
        <Icon name="warning" size={18} />
        <span>
          <strong>litfloor does not limit flashing.</strong> More than about three flashes a second over much of the
          floor can set off fits in people with photosensitive epilepsy (common practice in lighting, no measurement of
          this floor). Warn people at the entrance, and keep to the rules of the event and of the place.
        </span>
      </p>
      {floor.watch_only && <p class={table.small}>No nodes in the file: this daemon only watches.</p>}
    </Card>
  );
}
