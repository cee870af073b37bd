/** The one reader of `/api/v1/live`: connects, notices silence, connects again with growing delay. */
import { decode, type View } from "./decode";
import { Pictures, type WholeMessage } from "./pictures";

export interface Wanted {
  view: View | "none";
  max_fps: number;
  /** So often the other view comes too; not at all when it is left out. */
  also_fps?: number;
  /** Port-Addresses whose slots come too; an empty list ends them. */
  slots?: readonly string[];
  /** Whether voltages come too. */
  voltages?: boolean;
  /** What is sent on purpose, to be compared with the floor file. */
  reference?: Reference | null;
}

export type Reference = "first_pixels" | "all";

/** What a `WebSocket` offers, so far as it is used here. */
export interface Socket {
  binaryType: string;
  readyState: number;
  onopen: ((event: never) => unknown) | null;
  onmessage: ((event: { data: unknown } & never) => unknown) | null;
  onclose: ((event: never) => unknown) | null;
  send(text: string): void;
  close(): void;
}

interface LiveHandlers {
  open(): void;
  message(message: WholeMessage): void;
  /** The connection is gone; the next attempt starts in `retryInMs`. */
  lost(retryInMs: number): void;
  /** A message broke the contract. */
  broken(error: Error): void;
}

/** Clock, timers and chance, so that a test can have its own. */
interface Surroundings {
  connect(): Socket;
  later(run: () => void, ms: number): number;
  cancel(timer: number): void;
  random(): number;
}

const FIRST_DELAY_MS = 500;
const LONGEST_DELAY_MS = 10_000;
/** State arrives four times a second, so so long a silence means a dead connection. */
export const SILENCE_MS = 6_000;
const OPEN = 1;

export class LiveReader {
  #socket: Socket | null = null;
  #timer: number | null = null;
  #watchdog: number | null = null;
  #failures = 0;
  #stopped = false;

  constructor(
    private readonly around: Surroundings,
    private readonly handlers: LiveHandlers,
    private wanted: Wanted,
    /** The id that the daemon gave before, or nothing. */
    private readonly me: () => string,
  ) {}

  start(): void {
    this.#stopped = false;
    this.#connect();
  }

  stop(): void {
    this.#stopped = true;
    this.#drop();
    if (this.#timer !== null) this.around.cancel(this.#timer);
    this.#timer = null;
  }

  /** Connects now rather than when the delay is over. */
  retryNow(): void {
    if (this.#timer === null || this.#stopped) return;
    this.around.cancel(this.#timer);
    this.#connect();
  }

  want(wanted: Wanted): void {
    if (JSON.stringify(wanted) === JSON.stringify(this.wanted)) return;
    this.wanted = wanted;
    if (this.#socket?.readyState === OPEN) this.#socket.send(JSON.stringify(wanted));
  }

  #connect(): void {
    this.#timer = null;
    const socket = this.around.connect();
    const pictures = new Pictures();
    this.#socket = socket;
    socket.binaryType = "arraybuffer";
    socket.onopen = () => {
      socket.send(JSON.stringify(this.wanted));
      socket.send(JSON.stringify({ me: this.me(), deltas: true }));
      this.handlers.open();
    };
    socket.onmessage = (event: { data: unknown }) => {
      // The delay shrinks only when something arrives: a server that accepts and drops is still down.
      this.#failures = 0;
      this.#watch();
      if (!(event.data instanceof ArrayBuffer)) return;
      try {
        this.handlers.message(pictures.whole(decode(event.data)));
      } catch (error) {
        this.handlers.broken(error instanceof Error ? error : new Error(String(error)));
      }
    };
    socket.onclose = () => this.#lost();
    this.#watch();
  }

  #watch(): void {
    if (this.#watchdog !== null) this.around.cancel(this.#watchdog);
    this.#watchdog = this.around.later(() => this.#lost(), SILENCE_MS);
  }

  #lost(): void {
    this.#drop();
    if (this.#stopped) return;
    const delay = Math.min(FIRST_DELAY_MS * 2 ** this.#failures, LONGEST_DELAY_MS);
    this.#failures += 1;
    // Chance spreads many browsers out when a daemon comes back.
    const ms = Math.round(delay * (0.8 + 0.4 * this.around.random()));
    this.#timer = this.around.later(() => this.#connect(), ms);
    this.handlers.lost(ms);
  }

  #drop(): void {
    if (this.#watchdog !== null) this.around.cancel(this.#watchdog);
    this.#watchdog = null;
    const socket = this.#socket;
    this.#socket = null;
    if (!socket) return;
    socket.onopen = socket.onmessage = socket.onclose = null;
    socket.close();
  }
}

/** The real clock, timers and network of a browser. */
export function browserSurroundings(): Surroundings {
  const url = new URL("/api/v1/live", location.href);
  url.protocol = url.protocol === "https:" ? "wss:" : "ws:";
  return {
    connect: () => new WebSocket(url) as unknown as Socket,
    later: (run, ms) => window.setTimeout(run, ms),
    cancel: (timer) => window.clearTimeout(timer),
    random: Math.random,
  };
}
