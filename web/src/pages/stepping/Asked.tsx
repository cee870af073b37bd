import { useRef, useState } from "preact/hooks";
import { unsent } from "../../api/walk";
import type { LightColour, Question, StepAnswer } from "../../api/types";
import { Icon } from "../../components/Icon";
import { useLead } from "../../components/useLead";
import { litPositions } from "../../lib/sight";
import type { Layout } from "../../store";
import { Drawings } from "./Drawings";
import { PanelTap } from "./PanelTap";
import { PixelTap } from "./PixelTap";
import { UNLIT } from "./Status";
import action from "../../components/ActionButton.module.css";
import buttons from "../../components/button.module.css";
import css from "./Asked.module.css";

interface Props {
  layout: Layout;
  question: Question;
  colours: readonly LightColour[];
  blocked: boolean;
  /** Whether the light is on; without it nothing lights for another reason. */
  lit: boolean;
  onAnswer(answer: StepAnswer): void;
}

/** What can be tapped for the open question. */
export function Asked(props: Props) {
  const { layout, question, colours, blocked, onAnswer } = props;
  const given = unsent.value?.answer ?? null;
  if (question.ask === "look") return <Look {...props} />;
  return (
    <>
      {question.ask === "tap" ? (
        <PixelTap layout={layout} near={question.near} chosen={given} blocked={blocked} onPick={onAnswer} />
      ) : (
        <Colours colours={colours} chosen={given} blocked={blocked} onAnswer={onAnswer} />
      )}
      <div class={css.bar}>
        <Nothing {...props} />
      </div>
    </>
  );
}

function Look({ layout, question, blocked, lit, onAnswer }: Props) {
  const { drawings } = question;
  const [otherwise, setOtherwise] = useState(drawings.length === 0);
  const plan = useRef<HTMLDivElement>(null);
  useLead(plan, [otherwise], "nearest", () => otherwise && drawings.length > 0);
  const given = unsent.value?.answer ?? null;
  const near = drawings[0] ? (litPositions(drawings[0])[0] ?? null) : null;
  return (
    <>
      {!otherwise && (
        <Drawings
          layout={layout}
          drawings={drawings}
          chosen={given?.kind === "drawing" ? given.drawing : null}
          blocked={blocked}
          onPick={(drawing) => onAnswer({ kind: "drawing", drawing })}
        />
      )}
      {otherwise && (
        <div ref={plan} class={css.otherwise} tabIndex={-1} role="group" aria-label="Where most of the light is">
          <p class={css.lead}>Tap the panel where most of the light is, even if it is only part of it.</p>
          <PanelTap
            layout={layout}
            near={near}
            chosen={given?.kind === "panel" ? given.position : null}
            blocked={blocked}
            onPick={(position) => onAnswer({ kind: "panel", position })}
          />
        </div>
      )}
      <div class={css.bar}>
        {drawings.length > 0 && (
          <button type="button" class={`${buttons.solid} ${action.plain} ${action.big}`} onClick={() => setOtherwise(!otherwise)}>
            {otherwise ? (drawings.length === 1 ? "Back to the drawing" : "Back to the drawings") : drawings.length === 1 ? "No, it looks otherwise" : "It looks like none of these"}
          </button>
        )}
        <Nothing blocked={blocked} lit={lit} onAnswer={onAnswer} />
      </div>
    </>
  );
}

function Nothing({ blocked, lit, onAnswer }: Pick<Props, "blocked" | "lit" | "onAnswer">) {
  const off = blocked || !lit;
  return (
    <button
      type="button"
      class={`${buttons.solid} ${action.plain} ${action.big}`}
      aria-disabled={off}
      aria-describedby={lit ? undefined : UNLIT}
      data-chosen={unsent.value?.answer.kind === "nothing"}
      onClick={() => !off && onAnswer({ kind: "nothing" })}
    >
      Nothing lights
    </button>
  );
}

function Colours({ colours, chosen, blocked, onAnswer }: Pick<Props, "colours" | "blocked" | "onAnswer"> & { chosen: StepAnswer | null }) {
  return (
    <ul class={css.colours} aria-label="Colours">
      {colours.map((colour) => {
        const on = chosen?.kind === "colour" && chosen.colour === colour;
        return (
          <li key={colour}>
            <button type="button" class={css.colour} aria-disabled={blocked} data-chosen={on} onClick={() => !blocked && onAnswer({ kind: "colour", colour })}>
              <span class={`${css.swatch} ${css[colour]}`} />
              {colour[0]?.toUpperCase()}
              {colour.slice(1)}
              {on && <Icon name="ok" size={20} />}
            </button>
          </li>
        );
      })}
    </ul>
  );
}
