import { useSignal } from "@preact/signals";
import buttons from "../../components/button.module.css";
import type { Branch } from "../../lib/loads";
import { GROUP_WORD } from "../../lib/loads";
import { plural } from "../../lib/format";
import { narrow } from "../../lib/narrow";
import { meaning, type Word } from "../../lib/words";
import { watchOnly } from "../../store";
import { LoadRow } from "./LoadRow";
import { PanelRow } from "./PanelRow";
import css from "./LoadTree.module.css";

function branchKey(branch: Branch): string {
  return `${branch.group}:${branch.load.name}`;
}

function everyKey(branches: Branch[]): string[] {
  return branches.flatMap((b) => [branchKey(b), ...everyKey(b.children)]);
}

/** More feeds than that are not looked through at once, and cost a browser much to keep up to date. */
const MOST_OPEN_FEEDS = 40;

/**
 * What is closed at first: feeds; on a phone or if they are many those supplies in which all is well;
 * if both, also such circuits.
 */
function begins(branches: Branch[]): string[] {
  const feeds = branches.flatMap((circuit) => circuit.children).reduce((sum, supply) => sum + supply.children.length, 0);
  const many = feeds > MOST_OPEN_FEEDS;
  return closedIn(branches, {
    feeds: true,
    supplies: narrow.peek() || many,
    circuits: narrow.peek() && many,
  });
}

function closedIn(branches: Branch[], folded: Record<Branch["group"], boolean>): string[] {
  const trouble = ({ load, children }: Branch): boolean => load.impossible || load.draw_a > load.limit_a || children.some(trouble);
  return branches.flatMap((b) => {
    const closed = folded[b.group] && (b.group === "feeds" || !b.children.some(trouble));
    return [...(closed ? [branchKey(b)] : []), ...closedIn(b.children, folded)];
  });
}

/** Nested lists with a disclosure button at every branch. */
export function LoadTree({ branches }: { branches: Branch[] }) {
  const closed = useSignal<ReadonlySet<string>>(new Set(begins(branches)));
  const toggle = (key: string) => {
    const next = new Set(closed.value);
    if (!next.delete(key)) next.add(key);
    closed.value = next;
  };
  const columns: readonly (Word | "Scale")[] = watchOnly.value
    ? ["Draw", "Limit", "Headroom"]
    : ["Draw", "Asked", "Limit", "Headroom", "Reserved", "Scale"];
  const title = (word: Word | "Scale") =>
    word === "Scale"
      ? `Own: ${meaning("Own scale", false)} In all: ${meaning("Scale in all", false)}`
      : meaning(word, watchOnly.value);
  return (
    <>
      <div class={css.tools}>
        <button
          type="button"
          class={buttons.solid}
          onClick={() => {
            closed.value = new Set();
          }}
        >
          Open all
        </button>
        <button
          type="button"
          class={buttons.solid}
          onClick={() => {
            closed.value = new Set(everyKey(branches));
          }}
        >
          Close all
        </button>
      </div>
      <div style={{ "--numbers": columns.length }}>
        <div class={css.columns} aria-hidden="true">
          <span>Name</span>
          <span>{watchOnly.value ? "Draw, limit" : "Draw, asked, limit"}</span>
          {columns.map((word) => (
            <span key={word} title={title(word)}>
              {word}
            </span>
          ))}
        </div>
        <Level branches={branches} depth={0} closed={closed.value} toggle={toggle} />
      </div>
    </>
  );
}

interface LevelProps {
  branches: Branch[];
  depth: number;
  closed: ReadonlySet<string>;
  toggle(key: string): void;
}

function Level({ branches, depth, closed, toggle }: LevelProps) {
  return (
    <ul>
      {branches.map((branch) => {
        const key = branchKey(branch);
        const open = !closed.has(key);
        const below = whatIsBelow(branch);
        return (
          <li key={key}>
            <LoadRow
              word={GROUP_WORD[branch.group]}
              load={branch.load}
              depth={depth}
              below={below}
              open={open}
              onToggle={() => toggle(key)}
            />
            {open && branch.children.length > 0 && (
              <Level branches={branch.children} depth={depth + 1} closed={closed} toggle={toggle} />
            )}
            {open && branch.panels.length > 0 && (
              <ul>
                {branch.panels.map(({ info, state }) => (
                  <li key={info.position}>
                    <PanelRow info={info} now={state} depth={depth + 1} />
                  </li>
                ))}
              </ul>
            )}
          </li>
        );
      })}
    </ul>
  );
}

function whatIsBelow(branch: Branch): string {
  if (branch.group === "feeds") return plural(branch.panels.length, "panel");
  return branch.group === "supplies"
    ? plural(branch.children.length, "feed")
    : plural(branch.children.length, "supply", "supplies");
}
