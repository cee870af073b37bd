import { useEffect } from "preact/hooks";
import { look, walk } from "../../api/walk";
import { Card } from "../../components/Card";
import { Icon } from "../../components/Icon";
import { progressWords } from "../../lib/walk";
import action from "../../components/ActionButton.module.css";
import buttons from "../../components/button.module.css";
import css from "./WalkCard.module.css";

/** The way to the stepping mode. */
export function WalkCard() {
  useEffect(() => void look(), []);
  const on = walk.value;
  return (
    <Card title="Find out what was laid or wired otherwise" aside={on && (on.question ? `Under way: ${progressWords(on)}` : "A report is ready")}>
      <div class={css.parts}>
        <p>One panel lights at a time, you tap what you see, and at the end litfloor says what differs from the floor file and corrects it for review.</p>
        <a class={`${buttons.solid} ${action.main} ${css.link}`} href="#/stepping">
          <Icon name="walk" size={18} />
          {on ? (on.question ? "Go on with the walk…" : "See the report…") : "Walk the floor…"}
        </a>
      </div>
    </Card>
  );
}
