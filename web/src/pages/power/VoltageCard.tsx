import type { Floor, State, Voltages } from "../../api/types";
import { Card } from "../../components/Card";
import { Empty } from "../../components/Empty";
import { Status } from "../../components/Status";
import table from "../../components/table.module.css";
import { amps, percent, plural, volts, watts } from "../../lib/format";
import { narrow } from "../../lib/narrow";
import { unknownWays } from "../../lib/voltages";
import { selected, voltages } from "../../store";
import { Fact } from "../floor/Fact";
import css from "./VoltageCard.module.css";

/** More feeds than that are folded at first. */
const MOST_OPEN = 16;

/** Names that are listed before the others are counted. */
const MOST_NAMED = 6;

/** Where voltage is lost, and which panels are darker for it. */
export function VoltageCard({ floor, state }: { floor: Floor; state: State }) {
  const now = voltages.value;
  const { feeds, kinds } = unknownWays(floor);
  const nothing = feeds.length === floor.feeds.length && floor.panels.every((panel) => !panel.strip_known);
  if (nothing) {
    return (
      <Card title="Voltages">
        <Empty icon="power" title="The floor file describes no cable and no strip">
          Add <code>cable</code> to the feeds and <code>strip</code> to the kinds of panel: then the voltage at every
          pixel is found, and panels that get too little of it are named.
        </Empty>
      </Card>
    );
  }
  return (
    <Card title="Voltages" aside={now && <span class={css.took}>found in {now.took_ms.toFixed(1)} ms</span>}>
      <p class={css.lead}>
        Computed from cables and strips in the floor file for what is being sent; nothing is measured. Less voltage
        means less current and less light: the limits are kept as if nothing were lost.
      </p>
      {(feeds.length > 0 || kinds.length > 0) && (
        <p class={css.lead}>
          <Status icon="info" tone="info">
            Not all is known
          </Status>
          : {[some(feeds, "no cable for feed", "no cable for feeds"), some(kinds, "no strip for kind", "no strip for kinds")].filter(Boolean).join("; ")}.
          Nothing is reckoned as lost there.
        </p>
      )}
      {!now ? (
        <p class={css.lead}>The first voltages are being found…</p>
      ) : !now.found ? (
        <p>
          <Status icon="warning" tone="warning">
            The voltages could not be found
          </Status>
          : off by {now.off_mv.toFixed(1)} mV. Look at the currents and resistances in the floor file.
        </p>
      ) : (
        <Found floor={floor} state={state} now={now} />
      )}
    </Card>
  );
}

function some(names: string[], one: string, many: string): string {
  if (names.length === 0) return "";
  const more = names.length - MOST_NAMED;
  const named = names.slice(0, MOST_NAMED).join(", ");
  return `${names.length === 1 ? one : many} ${named}${more > 0 ? ` and ${more} more` : ""}`;
}

function Found({ floor, state, now }: { floor: Floor; state: State; now: Voltages }) {
  const more = now.starving_panels - now.starving.length;
  return (
    <>
      <h3 class={css.part}>
        {now.starving_panels === 0 ? (
          "No panel loses light for want of voltage"
        ) : (
          <Status icon="warning" tone="warning">
            {`${plural(now.starving_panels, "panel")} ${now.starving_panels === 1 ? "loses" : "lose"} light for want of voltage`}
          </Status>
        )}
      </h3>
      {now.starving.length > 0 && (
        <ul class={css.starving}>
          {now.starving.map((panel) => (
            <li key={panel.position}>
              <a
                href="#/floor"
                onClick={() => {
                  selected.value = panel.position;
                }}
              >
                {panel.position}
              </a>{" "}
              −{percent(panel.lost_percent / 100)} of its light
              <span class={css.small}>
                {" "}
                {volts(panel.input_v)} at the panel, {volts(panel.lowest_v)} at its pixel {panel.lowest_pixel}; feed {panel.feed}
              </span>
            </li>
          ))}
          {more > 0 && <li class={css.small}>and {plural(more, "more panel")}</li>}
        </ul>
      )}
      <details class={css.feeds} open={now.feeds.length <= MOST_OPEN && !narrow.value}>
        <summary>
          By feed: lowest {volts(Math.min(...now.feeds.map((feed) => feed.lowest_v)))},{" "}
          {watts(now.feeds.reduce((sum, feed) => sum + feed.cables_w + feed.strips_w, 0))} lost as heat
        </summary>
        {narrow.value ? <Cards state={state} now={now} floor={floor} /> : <Table state={state} now={now} floor={floor} />}
      </details>
    </>
  );
}

interface Rows {
  floor: Floor;
  state: State;
  now: Voltages;
}

const HEADS = {
  draw: "What went through the fuse at these voltages, a moment ago",
  nominal: "What it would draw if no voltage were lost: the cap goes by this",
  heat: "Lost in cables and in the copper of the strips",
};

function Table({ floor, state, now }: Rows) {
  return (
    <table class={table.table}>
      <thead>
        <tr>
          <th scope="col">Feed</th>
          <th scope="col" class={table.number}>
            Lowest
          </th>
          <th scope="col" class={table.number}>
            Of
          </th>
          <th scope="col" class={table.number} title={HEADS.draw}>
            Draws
          </th>
          <th scope="col" class={table.number} title={HEADS.nominal}>
            At full voltage
          </th>
          <th scope="col" class={table.number} title={HEADS.heat}>
            Lost as heat
          </th>
        </tr>
      </thead>
      <tbody>
        {now.feeds.map((feed, at) => (
          <tr key={feed.name}>
            <th scope="row">{feed.name}</th>
            <td class={table.number}>{volts(feed.lowest_v)}</td>
            <td class={table.number}>{volts(nominal(floor, at))}</td>
            <td class={table.number}>{amps(feed.draw_a)}</td>
            <td class={table.number}>{amps(state.feeds[at]?.draw_a)}</td>
            <td class={table.number}>{watts(feed.cables_w + feed.strips_w)}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

function Cards({ floor, state, now }: Rows) {
  return (
    <ul class={table.cards}>
      {now.feeds.map((feed, at) => (
        <li key={feed.name}>
          <div class={table.cardHead}>
            <strong>{feed.name}</strong>
          </div>
          <dl class={table.facts}>
            <Fact name="Lowest">{`${volts(feed.lowest_v)} of ${volts(nominal(floor, at))}`}</Fact>
            <Fact name="Draws" title={HEADS.draw}>
              {amps(feed.draw_a)}
            </Fact>
            <Fact name="At full voltage" title={HEADS.nominal}>
              {amps(state.feeds[at]?.draw_a)}
            </Fact>
            <Fact name="Lost as heat" title={HEADS.heat}>
              {watts(feed.cables_w + feed.strips_w)}
            </Fact>
          </dl>
        </li>
      ))}
    </ul>
  );
}

function nominal(floor: Floor, at: number): number | undefined {
  return floor.supplies.find((supply) => supply.name === floor.feeds[at]?.supply)?.volts;
}
