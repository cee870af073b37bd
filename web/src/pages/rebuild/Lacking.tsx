import type { Checklist } from "../../api/book";
import { Card } from "../../components/Card";
import { Status } from "../../components/Status";
import { plural } from "../../lib/format";
import { hashOf } from "../../lib/route";
import type { Layout } from "../../store";
import css from "./RebuildPage.module.css";

/** What is still to be done before the floor is as it was. */
export function Lacking({ layout, list }: { layout: Layout; list: Checklist }) {
  const { unplaced, silent, changed, placed } = list;
  const taken = new Set(placed.map(({ position }) => position));
  const free = layout.floor.panels.filter(({ position }) => !taken.has(position)).map(({ position }) => position);
  const done = unplaced.length + silent.length + changed.length + free.length === 0;
  return (
    <Card title="Checklist">
      {done ? (
        <Status icon="ok" tone="good">
          Every position has its panel, none is silent, none has changed
        </Status>
      ) : (
        <>
          <Part title="positions without a panel" one="position without a panel" words={free} />
          <Part title="panels not placed" one="panel not placed" words={unplaced} serials />
          <Part title="panels placed, but silent" one="panel placed, but silent" words={silent} serials />
          {changed.length > 0 && (
            <>
              <Status icon="warning" tone="warning">
                {`${plural(changed.length, "panel")} not as on the bench`}
              </Status>
              <ul class={css.list}>
                {changed.map(({ serial, position, was, is }) => (
                  <li key={serial} class={css.changed}>
                    <a class={css.serial} href={hashOf("panel", serial)}>
                      {serial}
                    </a>{" "}
                    <span>
                      at {position}: was {was}, is {is}
                    </span>
                  </li>
                ))}
              </ul>
            </>
          )}
        </>
      )}
    </Card>
  );
}

function Part({ title, one, words, serials = false }: { title: string; one: string; words: readonly string[]; serials?: boolean }) {
  if (words.length === 0) return null;
  return (
    <div class={css.part}>
      <Status icon="info" tone="info">
        {plural(words.length, one, title)}
      </Status>
      {serials ? (
        <ul class={css.serials}>
          {words.map((word) => (
            <li key={word}>
              <a class={css.serial} href={hashOf("panel", word)}>
                {word}
              </a>
            </li>
          ))}
        </ul>
      ) : (
        <p class={css.small}>{words.join(", ")}</p>
      )}
    </div>
  );
}
