import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { fetchHistory } from "../../api/history";
import { LOAD_GROUPS, type LoadGroup, type State } from "../../api/types";
import { Card } from "../../components/Card";
import { Empty } from "../../components/Empty";
import { History } from "../../lib/history";
import { KIND, type Choice, type Range, rangeOf } from "../../lib/range";
import { GROUP_WORD } from "../../lib/loads";
import { connection } from "../../store";
import { Chart } from "./Chart";
import { LineKey } from "./LineKey";
import { RangeCharts } from "./RangeCharts";
import { RangePicker } from "./RangePicker";
import css from "./HistoryCard.module.css";

type Load = { kind: "loading" } | { kind: "ready" } | { kind: "failed"; why: string };

/** So many are drawn at first; more can be chosen. */
const AT_FIRST = 4;

/** Time between two looks at a range that ends now. */
const AGAIN_MS = 60_000;

/** The circuits that are nearest to their limits. */
function nearest(state: State): Set<string> {
  const share = (c: State["circuits"][number]) => c.draw_a / c.limit_a;
  const sorted = [...state.circuits].sort((a, b) => share(b) - share(a));
  return new Set(sorted.slice(0, AT_FIRST).map((c) => `circuits:${c.name}`));
}

/**
 * The chosen elements: ten minutes of what the daemon kept, then a row a second from the live state; or any range
 * of what it recorded.
 */
export function HistoryCard({ state }: { state: State }) {
  const history = useRef(new History()).current;
  const load = useSignal<Load>({ kind: "loading" });
  const rows = useSignal(0);
  const chosen = useSignal<ReadonlySet<string>>(nearest(state));
  const choice = useSignal<Choice>("minutes");
  const range = useSignal<Range | null>(null);
  const online = connection.value.kind === "open";

  useEffect(() => {
    if (!online) return;
    let wanted = true;
    fetchHistory().then(
      (reply) => {
        if (!wanted) return;
        history.load(reply);
        load.value = { kind: "ready" };
        rows.value += 1;
      },
      (error: unknown) => {
        if (wanted) load.value = { kind: "failed", why: error instanceof Error ? error.message : String(error) };
      },
    );
    return () => {
      wanted = false;
    };
  }, [online]);
  useEffect(() => {
    if (choice.value !== "evening" && choice.value !== "day") return;
    const timer = setInterval(() => {
      range.value = rangeOf(choice.value, Date.now() / 1000);
    }, AGAIN_MS);
    return () => clearInterval(timer);
  }, [choice.value]);
  useEffect(() => {
    if (history.append(state)) rows.value += 1;
  }, [state]);

  const elements = LOAD_GROUPS.flatMap((group) =>
    state[group].map((now) => ({ group, now, key: `${group}:${now.name}` })),
  );
  const shown = elements.filter(({ key }) => chosen.value.has(key));
  return (
    <Card title="Draw over time" aside={<LineKey band={range.value !== null} />}>
      <RangePicker
        choice={choice.value}
        range={range.value}
        onChoose={(next) => {
          choice.value = next;
          range.value = next === "minutes" ? null : rangeOf(next, Date.now() / 1000);
        }}
        onRange={(next) => {
          range.value = next;
        }}
      />
      {!range.value && load.value.kind === "failed" && (
        <p class={css.failed}>What the daemon kept can't be read ({load.value.why}); the lines begin now.</p>
      )}
      <details class={css.choice}>
        <summary>
          Choose what is drawn <span class={css.count}>({shown.length} chosen)</span>
        </summary>
        <div class={css.groups}>
          {LOAD_GROUPS.map((group) => (
            <Group
              key={group}
              group={group}
              names={state[group].map((l) => l.name)}
              chosen={chosen.value}
              toggle={(key) => {
                const next = new Set(chosen.value);
                if (!next.delete(key)) next.add(key);
                chosen.value = next;
              }}
            />
          ))}
        </div>
      </details>
      {!range.value && load.value.kind === "loading" && (
        <p class={css.count}>
          {online ? "Loading what the daemon kept…" : "What the daemon kept comes when it answers again."}
        </p>
      )}
      {shown.length === 0 ? (
        <Empty icon="power" title="Nothing chosen">
          Open “Choose what is drawn” and tick a circuit, a supply or a feed.
        </Empty>
      ) : range.value ? (
        <RangeCharts
          range={range.value}
          shown={shown.map(({ group, now }) => ({ title: `${GROUP_WORD[group]} ${now.name}`, element: `${KIND[group]}:${now.name}` }))}
        />
      ) : (
        <div class={css.charts}>
          {shown.map(({ group, now, key }) => (
            <Chart key={key} title={`${GROUP_WORD[group]} ${now.name}`} group={group} now={now} history={history} rows={rows} />
          ))}
        </div>
      )}
    </Card>
  );
}

interface GroupProps {
  group: LoadGroup;
  names: string[];
  chosen: ReadonlySet<string>;
  toggle(key: string): void;
}

function Group({ group, names, chosen, toggle }: GroupProps) {
  return (
    <fieldset class={css.group}>
      <legend>{group}</legend>
      {names.map((name) => {
        const key = `${group}:${name}`;
        return (
          <label key={name} class={css.tick}>
            <input type="checkbox" checked={chosen.has(key)} onChange={() => toggle(key)} />
            {name}
          </label>
        );
      })}
    </fieldset>
  );
}
