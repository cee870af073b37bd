import { useEffect } from "preact/hooks";
import { type Checklist, FLOOR_TOML, floorDiff } from "../../api/book";
import { Card } from "../../components/Card";
import { Diff } from "../../components/Diff";
import { Icon } from "../../components/Icon";
import { Status } from "../../components/Status";
import action from "../../components/ActionButton.module.css";
import buttons from "../../components/button.module.css";
import form from "../../components/fields.module.css";
import css from "./RebuildPage.module.css";

/** The floor file with the serials as they are placed, for review; nothing is changed from here. What it was before the last panel was placed is not shown. */
export function FloorFile({ placed }: { placed: Checklist["placed"] }) {
  const laid = placed.map(({ position, serial }) => `${position}=${serial}`).join();
  useEffect(() => void floorDiff.look(), [laid]);
  const file = floorDiff.value.value;
  const failure = floorDiff.failure.value;
  return (
    <Card title="Floor file as placed">
      {failure ? (
        failure.code === "not_all_placed" ? (
          <NotAllPlaced text={failure.text} />
        ) : (
          <p class={css.small}>{failure.text}</p>
        )
      ) : !file ? (
        <p class={css.small}>Writing it…</p>
      ) : file.diff === "" ? (
        <p class={css.small}>The floor file says already what is placed: nothing would change.</p>
      ) : (
        <>
          <p class={form.lead}>Nothing has been changed yet. Read it through, put it in the place of the old one, and have litfloor read it again.</p>
          <Diff diff={file.diff} />
          <div class={css.row}>
            <a class={`${buttons.solid} ${action.main} ${css.link}`} href={FLOOR_TOML} download="floor.toml">
              <Icon name="down" /> Download the floor file
            </a>
          </div>
        </>
      )}
    </Card>
  );
}

/** Which positions lack a panel, and what to do about it. */
function NotAllPlaced({ text }: { text: string }) {
  return (
    <>
      <Status icon="info" tone="info">
        It can't be written yet
      </Status>
      <p class={css.small}>{text}</p>
      <p class={css.small}>
        Place a panel at each of these positions, above: the file appears here by itself then. Or take all panels of such a run off, if the file is to have no serials there. The floor runs
        on as its file says, and what is placed is kept in the book.
      </p>
    </>
  );
}
