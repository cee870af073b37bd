import type { Drawing } from "../../api/types";
import { Icon } from "../../components/Icon";
import { litPositions, sightWords } from "../../lib/sight";
import type { Layout } from "../../store";
import { Overview, Picture } from "./Picture";
import css from "./Drawings.module.css";

interface Props {
  layout: Layout;
  drawings: readonly Drawing[];
  /** The one that was tapped and is on its way. */
  chosen: number | null;
  blocked: boolean;
  onPick(drawing: number): void;
}

/** What the floor may look like, as cards to tap; the likeliest first, as the daemon sorts them. */
export function Drawings({ layout, drawings, chosen, blocked, onPick }: Props) {
  const one = drawings.length === 1;
  return (
    <ul class={`${css.list} ${one ? css.one : ""}`} aria-label={one ? "What is expected" : `${drawings.length} drawings, the likeliest first`}>
      {drawings.map((drawing, at) => {
        const words = sightWords(drawing, layout.floor.panels);
        return (
          <li key={at}>
            <button
              type="button"
              class={css.card}
              aria-disabled={blocked}
              data-drawing={at}
              data-chosen={chosen === at}
              onClick={() => !blocked && onPick(at)}
            >
              <Picture layout={layout} drawing={drawing} />
              <span class={css.foot}>
                <span class={css.where}>
                  <Overview floor={layout.floor} lit={litPositions(drawing)} />
                </span>
                <span class={css.words}>
                  {!one && <strong class={css.number}>{at + 1}</strong>}
                  <span>{words}</span>
                </span>
              </span>
              {one && (
                <span class={css.yes}>
                  <Icon name="ok" size={22} />
                  Yes, just like this
                </span>
              )}
            </button>
          </li>
        );
      })}
    </ul>
  );
}
