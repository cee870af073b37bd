import { useSignal } from "@preact/signals";
import { useId } from "preact/hooks";
import { limitFloor, limiting } from "../../api/limit";
import type { FloorLoadState } from "../../api/types";
import { ActionButton } from "../../components/ActionButton";
import { Barrier, barred } from "../../components/Barrier";
import { Card } from "../../components/Card";
import { FailureNote } from "../../components/FailureNote";
import { Status } from "../../components/Status";
import { percent, voltAmps } from "../../lib/format";
import { guest, watchOnly } from "../../store";
import { Fact } from "../floor/Fact";
import css from "./FloorLimit.module.css";

/** What the whole floor takes from the mains, and how it is turned down. */
export function FloorLimit({ now }: { now: FloorLoadState }) {
  return (
    <Card title="Whole floor" aside={<span class={css.aside}>apparent power at the mains, computed</span>}>
      <dl class={css.facts}>
        <Fact name="Draw">{voltAmps(now.draw_va)}</Fact>
        {!watchOnly.value && <Fact name="Asked">{voltAmps(now.asked_va)}</Fact>}
        <Fact name="Dark">{voltAmps(now.idle_va)}</Fact>
        <Fact name="Limit">{now.limit_va === null ? "none" : voltAmps(now.limit_va)}</Fact>
        {!watchOnly.value && (
          <Fact name="Own scale" title="The factor that the floor as a whole needs, to keep its limit. 100 %: it holds nothing back.">
            {percent(now.scale)}
          </Fact>
        )}
      </dl>
      {now.impossible && (
        <p class={css.remark}>
          <Status icon="danger" tone="danger">
            Even dark the floor draws more than this
          </Status>
          : no cap can keep it. Switch supplies off.
        </p>
      )}
      {!watchOnly.value && <TurnDown now={now} />}
    </Card>
  );
}

function TurnDown({ now }: { now: FloorLoadState }) {
  const id = useId();
  const why = useId();
  const typed = useSignal("");
  const wish = typed.value.trim() === "" ? null : Number(typed.value);
  const sound = wish !== null && Number.isInteger(wish) && wish >= 0 && wish <= 1e9;
  const off = barred() !== null;
  const live = now.live_limit_va;
  if (guest.value) {
    return live === null ? null : <p class={css.lead}>Turned down to {voltAmps(live)}.</p>;
  }
  return (
    <form
      class={css.form}
      onSubmit={async (event) => {
        event.preventDefault();
        if (off || !sound || wish === null) return;
        if (await limitFloor(wish)) typed.value = "";
      }}
    >
      <p class={css.lead} role="status">
        {live === null
          ? "Not turned down: the limits are those of the floor file."
          : `Turned down to ${voltAmps(live)} until somebody takes that away, or litfloor ends.`}
      </p>
      <div class={css.act}>
        <label for={id}>Turn down to</label>
        <span class={css.entry}>
          <input
            id={id}
            type="number"
            inputMode="numeric"
            min={0}
            step={1}
            placeholder={String(Math.round(live ?? now.limit_va ?? now.draw_va))}
            value={typed.value}
            onInput={(event) => {
              typed.value = event.currentTarget.value;
            }}
          />{" "}
          VA
        </span>
        <ActionButton action={limiting} waiting="Turning …" type="submit" blocked={off || !sound} reasonId={why}>
          Turn down
        </ActionButton>
        {live !== null && (
          <ActionButton action={limiting} waiting="Asking …" blocked={off} reasonId={why} onRun={() => void limitFloor(null)}>
            Back to the file's limits
          </ActionButton>
        )}
      </div>
      <p class={css.help}>
        Acts at once, and never above the floor file. For a generator that is at its end: it makes the light darker, and
        protects nothing.
      </p>
      {off ? (
        <Barrier id={why} />
      ) : (
        <p id={why} class={css.help}>
          {sound ? "" : "Write whole volt-amperes, 0 or more."}
        </p>
      )}
      <FailureNote action={limiting} />
    </form>
  );
}
