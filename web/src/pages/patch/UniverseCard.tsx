import type { UniverseState } from "../../api/types";
import { Status } from "../../components/Status";
import { flatNumber } from "../../lib/address";
import { ago, count, rate } from "../../lib/format";
import type { Patch } from "../../lib/patch";
import { troubles } from "../../lib/trouble";
import { UniverseName } from "../signal/parts";
import { ReferenceVerdict } from "./Reference";
import { Ribbon } from "./Ribbon";
import css from "./UniverseCard.module.css";

/** One universe: who sends it, what is wrong with it, and its slots. */
export function UniverseCard({ patch, universe: u }: { patch: Patch; universe: UniverseState }) {
  const flat = flatNumber(u.port_address) ?? -1;
  const a = u.arrival;
  const wrong = troubles(u);
  const sources = u.sources.map((s) => s.address);
  const still = a.still_lit_slots;
  return (
    <article class={css.universe} id={`universe-${flat}`} tabIndex={-1} aria-label={`Universe ${u.port_address}`}>
      <div class={css.head}>
        <h3>
          <UniverseName portAddress={u.port_address} />
        </h3>
        <ReferenceVerdict flat={flat} mapped={u.mapped} />
        <p class={css.facts}>
          {u.age_s === null ? (
            <span>no frame has come</span>
          ) : (
            <>
              <span>{sources.length > 0 ? `from ${[...new Set(sources)].join(" and ")}` : "no source now"}</span>
              <span>{u.lost ? ago(u.age_s) : rate(u.fps)}</span>
              <span>
                {u.slots} slots{u.mapped ? `, ${a.needs_slots} needed` : ""}
              </span>
              <span>
                {count(a.moving_slots)} moving, {count(still)} still and lit
              </span>
            </>
          )}
        </p>
      </div>
      {wrong.length > 0 && (
        <ul class={css.troubles}>
          {wrong.map((t) => (
            <li key={t.text}>
              <Status icon={t.tone === "info" ? "info" : t.tone} tone={t.tone}>
                {t.text}
              </Status>
            </li>
          ))}
        </ul>
      )}
      <Ribbon patch={patch} flat={flat} most={Math.max(a.needs_slots, u.slots, 1)} />
    </article>
  );
}
