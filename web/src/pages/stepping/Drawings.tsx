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
        const pick = {
          "aria-disabled": blocked,
          "data-drawing": at,
          "data-chosen": chosen === at,
          onClick: () => {
            if (!blocked) onPick(at);
          },
        };
        const shown = (
          <>
            <Picture layout={layout} drawing={drawing} />
            <span class={css.foot}>
              <span class={css.where}>
                <Overview floor={layout.floor} lit={litPositions(drawing)} />
              </span>
              <span class={css.words}>
                {!one && <strong class={css.number}>{at + 1}</strong>}
                <span>{sightWords(drawing, layout.floor.panels)}</span>
              </span>
            </span>
          </>
        );
        return (
          <li key={at}>
            {one ? (
              // Who taps a neighbour in the drawing means that one: only the button says yes.
              <div class={css.card}>
                {shown}
                <button type="button" class={css.yes} {...pick}>
                  <Icon name="ok" size={22} />
                  Yes, just like this
                </button>
              </div>
            ) : (
              <button type="button" class={css.card} {...pick}>
                {shown}
              </button>
            )}
          </li>
        );
      })}
    </ul>
  );
}
