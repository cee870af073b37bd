import { useEffect, useRef, useState } from "preact/hooks";
import { serialIn } from "../lib/book";
import { Icon } from "./Icon";
import buttons from "./button.module.css";
import css from "./Scan.module.css";

/** What some browsers have for reading codes. */
interface Detector {
  detect(source: HTMLVideoElement): Promise<{ rawValue: string }[]>;
}
type DetectorClass = new (options: { formats: string[] }) => Detector;

const detectorOf = () => (window as unknown as { BarcodeDetector?: DetectorClass }).BarcodeDetector;

/** Cameras are only given to pages over a secure connection, and not every browser reads codes. */
export const canScan = () => window.isSecureContext && detectorOf() !== undefined && navigator.mediaDevices !== undefined;

const LOOK_MS = 200;

/** Reads a serial off a label with the camera. Where that can't be, it says what can be done instead. */
export function Scan({ onSerial }: { onSerial(serial: string): void }) {
  const [on, setOn] = useState(false);
  const [trouble, setTrouble] = useState<string | null>(null);
  const video = useRef<HTMLVideoElement>(null);
  useEffect(() => {
    const Reader = detectorOf();
    if (!on || !Reader) return;
    let ended = false;
    let stream: MediaStream | null = null;
    let timer: ReturnType<typeof setTimeout> | undefined;
    const detector = new Reader({ formats: ["qr_code"] });
    const look = async () => {
      const found = video.current ? await detector.detect(video.current).catch(() => []) : [];
      if (ended) return;
      const serial = found[0] ? serialIn(found[0].rawValue) : "";
      if (serial !== "") {
        onSerial(serial);
        setOn(false);
      } else timer = setTimeout(() => void look(), LOOK_MS);
    };
    navigator.mediaDevices
      .getUserMedia({ video: { facingMode: "environment" } })
      .then(async (got) => {
        if (ended) return got.getTracks().forEach((track) => track.stop());
        stream = got;
        if (!video.current) return;
        video.current.srcObject = got;
        await video.current.play();
        await look();
      })
      .catch((error: unknown) => {
        if (ended) return;
        setTrouble(`The camera can't be used (${error instanceof Error ? error.message : "no reason given"}): type the serial instead.`);
        setOn(false);
      });
    return () => {
      ended = true;
      clearTimeout(timer);
      stream?.getTracks().forEach((track) => track.stop());
    };
  }, [on]);
  if (!canScan()) {
    return <p class={css.small}>This browser can't scan here: type the serial, or scan the label with the phone's own camera, which opens the panel's page.</p>;
  }
  return (
    <div class={css.scan}>
      <button type="button" class={buttons.solid} aria-pressed={on} onClick={() => (setTrouble(null), setOn(!on))}>
        <Icon name={on ? "close" : "code"} /> {on ? "Stop scanning" : "Scan a label"}
      </button>
      {on && <video ref={video} class={css.video} muted playsInline aria-label="Picture of the camera" />}
      {trouble && (
        <p role="alert" class={css.small}>
          {trouble}
        </p>
      )}
    </div>
  );
}
