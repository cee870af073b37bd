import type { Signal } from "@preact/signals";
import type { View } from "../../api/decode";
import buttons from "../../components/button.module.css";
import { Icon } from "../../components/Icon";
import { view } from "../../store";
import css from "./FloorTools.module.css";

const VIEWS: { view: View; word: string; icon: "out" | "in" }[] = [
  { view: "sent", word: "As sent", icon: "out" },
  { view: "asked", word: "As asked", icon: "in" },
];

export function FloorTools({ labels, watchOnly }: { labels: Signal<boolean>; watchOnly: boolean }) {
  return (
    <div class={css.tools}>
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
      <p class={css.hint}>
        {view.value === "sent"
          ? watchOnly
            ? "After the cap. The file names no nodes: nothing leaves, this only watches."
            : "After the cap: what leaves to the nodes."
          : "Before the cap: what the console asks for. The floor shows less where panels are marked."}
      </p>
    </div>
  );
}
