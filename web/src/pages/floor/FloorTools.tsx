import type { Signal } from "@preact/signals";
import type { View } from "../../api/decode";
import buttons from "../../components/button.module.css";
import { Icon } from "../../components/Icon";
import { WatchOnly } from "../../components/WatchOnly";
import { state, view, watchOnly } from "../../store";
import css from "./FloorTools.module.css";

const VIEWS: { view: View; word: string; icon: "out" | "in" }[] = [
  { view: "sent", word: "As sent", icon: "out" },
  { view: "asked", word: "As asked", icon: "in" },
];

export function FloorTools({ labels }: { labels: Signal<boolean> }) {
  return (
    <div class={css.tools}>
      {watchOnly.value ? <strong class={css.only}>As it arrives</strong> : <ViewChoice />}
      <button
        type="button"
        class={buttons.toggle}
        aria-pressed={labels.value}
        onClick={() => {
          labels.value = !labels.value;
        }}
      >
        <Icon name="labels" />
        Positions
      </button>
      <div class={css.hint}>
        {watchOnly.value ? (
          <WatchOnly />
        ) : view.value === "sent" && state.value?.standby && state.value.standby.duty !== "leads" ? (
          <p>
            <strong>Nothing leaves to the nodes from here: this litfloor stands by.</strong>
          </p>
        ) : view.value === "sent" ? (
          <p>After the cap: what leaves to the nodes.</p>
        ) : (
          <p>Before the cap: what the console asks for. The floor shows less where panels are marked.</p>
        )}
      </div>
    </div>
  );
}

function ViewChoice() {
  return (
    <fieldset class={css.switch}>
      <legend class={css.legend}>Picture</legend>
      {VIEWS.map(({ view: value, word, icon }) => (
        <label key={value} class={css.choice}>
          <input
            type="radio"
            name="view"
            value={value}
            checked={view.value === value}
            onChange={() => {
              view.value = value;
            }}
          />
          <Icon name={icon} />
          {word}
        </label>
      ))}
    </fieldset>
  );
}
