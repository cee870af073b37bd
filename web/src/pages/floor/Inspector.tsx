import type { ComponentChildren } from "preact";
import type { Floor, PanelInfo, PanelState, State } from "../../api/types";
import buttons from "../../components/button.module.css";
import { Computed } from "../../components/Computed";
import { Icon } from "../../components/Icon";
import { LoadBar } from "../../components/LoadBar";
import { Status } from "../../components/Status";
import { Words } from "../../components/Words";
import { amps, millimetres, percent, plural, volts } from "../../lib/format";
import { headroom } from "../../lib/loads";
import { silenceWords, silentNodes } from "../../lib/nodes";
import { hashOf } from "../../lib/route";
import { panelVolts } from "../../lib/voltages";
import { pressedWords } from "../../lib/switches";
import { meaning, type Word } from "../../lib/words";
import { hasBook, selected, voltages, watchOnly } from "../../store";
import { Fact } from "./Fact";
import { Levels } from "./Levels";
import { Segments } from "./Segments";
import { SupplyPath } from "./SupplyPath";
import css from "./Inspector.module.css";

interface Props {
  floor: Floor;
  panel: PanelInfo;
  now: PanelState;
  state: State;
}

/** All there is to know of one panel. */
export function Inspector({ floor, panel, now, state }: Props) {
  const left = headroom(now.draw_a, now.limit_a);
  const only = watchOnly.value;
  const told = (word: Word, value: ComponentChildren) => (
    <Fact name={word} title={meaning(word, only)}>
      {value}
    </Fact>
  );
  const elsewhere = JSON.stringify(panel.source_spans) !== JSON.stringify(panel.spans);
  const node = state.nodes.find((n) => n.name === panel.node);
  const known = panel.strip_known || floor.feeds.some((feed) => feed.name === panel.feed && feed.cable_known);
  const sag = known ? panelVolts(voltages.value, floor, panel.position) : null;
  return (
    <section class={css.inspector} aria-labelledby="inspector-title">
      <div class={css.head}>
        <h2 id="inspector-title" class={css.title}>
          Panel {panel.position}
        </h2>
        {now.scale < 1 && (
          <span class={css.dimmed}>
            <span class={css.corner} aria-hidden="true" />
            dimmed to {percent(now.scale)}
          </span>
        )}
        <button
          type="button"
          class={buttons.plain}
          aria-label="Leave this panel"
          onClick={() => {
            selected.value = null;
          }}
        >
          <Icon name="close" />
        </button>
      </div>

      {node && silentNodes([node], state.uptime_s).has(node.name) && (
        <p class={css.remark} role="note">
          <Status icon="warning" tone="warning">
            {`Node ${node.name}`}
          </Status>{" "}
          {silenceWords(node)}: what this panel shows is not known.
        </p>
      )}
      {now.impossible && (
        <p class={css.remark}>
          <Status icon="danger" tone="danger">
            Even dark it draws more than its limit
          </Status>
          {!only && <span>: no cap can keep this.</span>}
        </p>
      )}
      <dl class={css.facts}>
        {!only && told("Asked", amps(now.asked_a))}
        {told("Draw", amps(now.draw_a))}
        {told("Limit", now.limit_a === null ? "none" : amps(now.limit_a))}
        {!only && told("Scale in all", percent(now.scale))}
        {left !== null &&
          told(
            "Headroom",
            left < 0.1 ? (
              <Status icon={left < 0 ? "danger" : "warning"} tone={left < 0 ? "danger" : "warning"}>
                {percent(left)}
              </Status>
            ) : (
              percent(left)
            ),
          )}
        {sag && (
          <>
            <Fact name="Voltage" title="Where power enters the panel, and at the pixel that has least. Computed from cables and strips in the floor file.">
              {`${volts(sag.input_v)}, ${volts(sag.lowest_v)} at pixel ${sag.lowest_pixel}`}
            </Fact>
            <Fact name="Light lost" title="For want of voltage, of what its levels ask for">
              {sag.lost === null ? "dark" : percent(sag.lost)}
            </Fact>
          </>
        )}
        {panel.switches > 0 && (
          <Fact name="Pressed" title="Switches under it that are pressed now, as their node says">
            {pressedWords(now)}
          </Fact>
        )}
        <Fact name="Dark / full">{`${amps(panel.idle_a)} / ${amps(panel.full_a)}`}</Fact>
      </dl>
      <LoadBar asked_a={only ? undefined : now.asked_a} draw_a={now.draw_a} limit_a={now.limit_a} full_a={panel.full_a} />

      <h3 class={css.part}>Levels, pixel by pixel</h3>
      <Levels panel={panel} floor={floor} />

      <h3 class={css.part}>Segments</h3>
      <Segments panel={panel} now={now} />

      <h3 class={css.part}>Feed path</h3>
      <Computed />
      <SupplyPath panel={panel} state={state} />
      <Words />

      <h3 class={css.part}>Where it is</h3>
      <dl class={css.facts}>
        {panel.serial && (
          <Fact name="Serial">
            {hasBook.value ? (
              <a class={css.history} href={hashOf("panel", panel.serial)}>
                {panel.serial}
              </a>
            ) : (
              panel.serial
            )}
          </Fact>
        )}
        <Fact name="Kind">{panel.kind}</Fact>
        <Fact name="Turn">{`${panel.turn_deg}° clockwise`}</Fact>
        <Fact name="Node">{panel.node ?? "none, only watched"}</Fact>
        <Fact name="Port">{panel.port === null ? "not given" : String(panel.port)}</Fact>
        <Fact name="Upper left">{`${millimetres(panel.x_mm)}, ${millimetres(panel.y_mm)}`}</Fact>
        <Fact name="Holds">{`${plural(panel.pixels, "pixel")}, ${plural(panel.switches, "switch", "switches")}`}</Fact>
        {elsewhere && <Spans name="At the console" spans={panel.source_spans} />}
        <Spans name={elsewhere ? "At the node" : "Port-Address"} spans={panel.spans} />
      </dl>
    </section>
  );
}

/** Where a panel's slots lie. */
function Spans({ name, spans }: { name: string; spans: PanelInfo["spans"] }) {
  return (
    <Fact name={name} wide>
      <ul>
        {spans.map((span) => (
          <li key={span.port_address + span.first_slot}>
            {span.port_address}, slots {span.first_slot} to {span.last_slot}
          </li>
        ))}
      </ul>
    </Fact>
  );
}
