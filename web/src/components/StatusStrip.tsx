import type { ComponentChildren } from "preact";
import type { SignalWord, StandbyDuty, State } from "../api/types";
import { amps, percent, plural, rate, uptime, voltAmps } from "../lib/format";
import { mains, worstHeadroom } from "../lib/loads";
import { narrow } from "../lib/narrow";
import { ageS, connection, layout, state } from "../store";
import { Icon, type IconName } from "./Icon";
import { SEVERITY } from "./Notices";
import css from "./StatusStrip.module.css";

type Tone = "good" | "warning" | "danger" | "info" | "quiet";

const SIGNAL: Record<SignalWord, { icon: IconName; word: string; tone: Tone }> = {
  waiting: { icon: "wait", word: "waiting", tone: "info" },
  live: { icon: "ok", word: "live", tone: "good" },
  partial: { icon: "warning", word: "partial", tone: "warning" },
  lost: { icon: "danger", word: "lost", tone: "danger" },
};

/** What must be seen on every page. */
export function StatusStrip() {
  const now = state.value;
  return (
    <section class={css.strip} aria-label="Status">
      {now ? <Live now={now} /> : <Cell icon="wait" tone="quiet" label="Signal" value="–" />}
      <Link />
    </section>
  );
}

function Live({ now }: { now: State }) {
  const floor = layout.value?.floor;
  const signal = SIGNAL[now.signal];
  const mapped = now.universes.filter((u) => u.mapped);
  const arriving = mapped.filter((u) => !u.lost && u.age_s !== null);
  const fps = arriving.reduce((most, u) => Math.max(most, u.fps), 0);
  const total = floor ? mains(now, floor) : null;
  const worst = worstHeadroom(now);
  // Computed room is no permission: it gets no tick, only a warning when it is little.
  const tight: Tone = !worst || worst.share > 0.1 ? "quiet" : worst.share >= 0 ? "warning" : "danger";
  const notice = now.notices[0];
  // What was so when it was last heard is not said to be so.
  const old = connection.value.kind === "lost";
  const was = (word: string) => (old ? `was ${word}` : word);
  return (
    <>
      <Cell
        {...(old ? {} : { icon: signal.icon })}
        tone={old ? "quiet" : signal.tone}
        label="Signal"
        value={was(signal.word)}
      >
        {narrow.value
          ? `${rate(fps)}, ${arriving.length} of ${mapped.length}`
          : `${rate(fps)}, ${arriving.length} of ${plural(mapped.length, "universe")}`}
      </Cell>
      <Cell label="Mains, computed" value={total ? amps(total.draw_a) : "–"}>
        {total ? voltAmps(total.power_va) : ""}
      </Cell>
      <Cell
        {...(tight === "warning" || tight === "danger" ? { icon: tight } : {})}
        tone={tight}
        label={narrow.value ? "Headroom, computed" : "Least headroom, computed"}
        value={worst ? percent(Math.max(worst.share, -9.99)) : "–"}
      >
        {worst?.name ?? "nothing has a limit"}
      </Cell>
      <Cell
        {...(notice ? { icon: SEVERITY[notice.severity].icon } : old ? {} : { icon: "ok" as const })}
        tone={notice?.severity ?? (old ? "quiet" : "good")}
        label="Notices"
        value={notice ? `${now.notices.length} · ${SEVERITY[notice.severity].word}` : was("none")}
        wide
      >
        {notice?.text ?? `running for ${uptime(now.uptime_s)}`}
      </Cell>
    </>
  );
}

/** Of two litfloors, which one this is. */
const DUTY: Record<StandbyDuty, string> = { listens: "listens first", leads: "leads", stands_by: "stands by", ended: "ended" };

function Link() {
  const link = connection.value;
  if (link.kind === "open") {
    const standby = state.value?.standby;
    return (
      <Cell icon="link" tone="good" label="Daemon" value="online" title="This page is connected to litfloor">
        {standby ? DUTY[standby.duty] : null}
      </Cell>
    );
  }
  if (link.kind === "connecting") {
    return <Cell icon="wait" tone="info" label="Daemon" value="trying" title="This page is connecting to litfloor" />;
  }
  return (
    <Cell icon="broken" tone="danger" label="Daemon" value="offline" title="This page has no connection to litfloor">
      {ageS.value === null ? "never heard" : `${ageS.value} s ago`}
    </Cell>
  );
}

interface CellProps {
  label: string;
  value: string;
  icon?: IconName;
  tone?: Tone;
  wide?: boolean;
  title?: string;
  children?: ComponentChildren;
}

function Cell({ label, value, icon, tone = "quiet", wide, title, children }: CellProps) {
  return (
    <div class={`${css.cell} ${wide ? css.wide : ""}`} data-tone={tone} title={title}>
      <span class={css.label}>{label}</span>
      <span class={css.value}>
        {icon && <Icon name={icon} />}
        <span>{value}</span>
      </span>
      <span class={css.more} title={typeof children === "string" ? children : undefined}>
        {children}
      </span>
    </div>
  );
}
