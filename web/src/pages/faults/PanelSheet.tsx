import { useRef, useState } from "preact/hooks";
import { type Health, type PanelHealth, report } from "../../api/health";
import type { Floor } from "../../api/types";
import { ActionButton } from "../../components/ActionButton";
import { Barrier, barred } from "../../components/Barrier";
import { FailureNote } from "../../components/FailureNote";
import { Icon } from "../../components/Icon";
import { LightThis } from "../../components/LightThis";
import { NotForGuests } from "../../components/NotForGuests";
import { useLead } from "../../components/useLead";
import { useAction } from "../../components/useWatched";
import { causeWord, SAYS, segmentWords } from "../../lib/faults";
import { hashOf } from "../../lib/route";
import { guest } from "../../store";
import { Pick } from "../test/Pick";
import buttons from "../../components/button.module.css";
import css from "./PanelSheet.module.css";

interface Props {
  floor: Floor;
  position: string;
  panel: PanelHealth | undefined;
  health: Health;
  onClose(): void;
}

/** What is known of one panel, and buttons for what somebody sees of it. */
export function PanelSheet({ floor, position, panel, health, onClose }: Props) {
  const [segment, setSegment] = useState<number | null>(null);
  const [told, setTold] = useState<string | null>(null);
  const action = useAction();
  const top = useRef<HTMLHeadingElement>(null);
  const info = floor.panels.find((one) => one.position === position);
  const faults = health.faults.filter((fault) => fault.position === position || fault.behind.includes(position));
  const blocked = barred() !== null;
  useLead(top, [], "nearest");
  const subject = segment === null ? position : `${position}, segment ${segment}`;
  return (
    <section class={css.sheet} aria-label={`Panel ${position}`} data-sheet={position}>
      <div class={css.head}>
        <h3 ref={top} class={css.title} tabIndex={-1}>
          Panel {position}
        </h3>
        {info?.serial && (
          <a class={`${buttons.solid} ${css.link}`} href={hashOf("panel", info.serial)}>
            Its history
          </a>
        )}
        <button type="button" class={buttons.plain} aria-label="Close" onClick={onClose}>
          <Icon name="close" />
        </button>
      </div>
      {faults.map((fault) => (
        <p key={fault.key} class={css.fault}>
          <Icon name="warning" /> {causeWord(fault.cause)}: {fault.place}
        </p>
      ))}
      {panel && panel.pressed.length > 0 && <p class={css.small}>Pressed now: switch {panel.pressed.join(", ")}.</p>}
      <fieldset class={css.group}>
        <legend>{guest.value ? "Its segments" : "What is it about?"}</legend>
        <Pick name="segment" chosen={segment === null} onPick={() => setSegment(null)}>
          The whole panel
        </Pick>
        {(panel?.segments ?? []).map((one, index) => (
          <Pick key={index} name="segment" chosen={segment === index + 1} onPick={() => setSegment(index + 1)}>
            <b>Segment {index + 1}:</b> {segmentWords(one)}
          </Pick>
        ))}
      </fieldset>
      <NotForGuests>
        <p class={css.small}>Report what you see of {subject}:</p>
      </NotForGuests>
      <Barrier id="report-barrier" />
      <div class={css.says}>
        {SAYS.map(({ says, word, icon }) => (
          <ActionButton
            key={says}
            action={action}
            icon={icon}
            waiting="Reporting…"
            blocked={blocked}
            reasonId="report-barrier"
            onRun={() => {
              setTold(null);
              void report(action, position, segment, says).then((done) => done && setTold(`Reported: ${subject} – ${word.toLowerCase()}.`));
            }}
          >
            {word}
          </ActionButton>
        ))}
        <LightThis spot={segment === null ? { kind: "panel", position } : { kind: "segment", position, segment }} word={segment === null ? "Light the panel" : "Light the segment"} />
      </div>
      <FailureNote action={action} />
      <p role="status" class={css.small}>
        {told}
      </p>
    </section>
  );
}
