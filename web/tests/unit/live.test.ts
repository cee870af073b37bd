import assert from "node:assert/strict";
import { test } from "node:test";
import { LiveReader, SILENCE_MS, type Socket } from "../../src/api/live";

/** A network and a clock that go only where the test lets them. */
function world() {
  const sockets: (Socket & { sent: string[]; closed: boolean })[] = [];
  const timers = new Map<number, { run: () => void; ms: number }>();
  const told: string[] = [];
  let next = 1;
  const reader = new LiveReader(
    {
      connect() {
        const socket = {
          binaryType: "", readyState: 0, onopen: null, onmessage: null, onclose: null, sent: [] as string[], closed: false,
          send(text: string) { this.sent.push(text); },
          close() { this.closed = true; },
        };
        sockets.push(socket);
        return socket;
      },
      later: (run, ms) => (timers.set(next, { run, ms }), next++),
      cancel: (timer) => void timers.delete(timer),
      random: () => 0.5,
    },
    {
      open: () => told.push("open"),
      message: (m) => told.push(m.kind),
      lost: (ms) => told.push(`lost ${ms}`),
      broken: () => told.push("broken"),
    },
    { view: "sent", max_fps: 30 },
    () => "my id",
  );
  const fire = (ms: number) => {
    const [id, timer] = [...timers].find(([, t]) => t.ms === ms) ?? assert.fail(`no timer of ${ms} ms`);
    timers.delete(id);
    timer.run();
  };
  const last = () => sockets.at(-1)!;
  const open = () => {
    last().readyState = 1;
    last().onopen?.({} as never);
  };
  const arrive = (data: unknown) => last().onmessage?.({ data } as never);
  return { reader, sockets, timers, told, fire, last, open, arrive };
}

const STATE = Uint8Array.from([3, 0, 0, 0, 1, 0, 0, 0, 123, 125]).buffer;

test("says what it wants when it is connected, and again when that changes", () => {
  const w = world();
  w.reader.start();
  w.open();
  assert.equal(w.last().binaryType, "arraybuffer");
  w.reader.want({ view: "none", max_fps: 30 });
  w.reader.want({ view: "none", max_fps: 30 });
  w.reader.want({ view: "sent", max_fps: 30, also_fps: 5 });
  w.reader.want({ view: "sent", max_fps: 30, also_fps: 5 });
  w.reader.want({ view: "sent", max_fps: 30 });
  assert.deepEqual(w.last().sent, [
    '{"view":"sent","max_fps":30}',
    '{"me":"my id","deltas":true}',
    '{"view":"none","max_fps":30}',
    '{"view":"sent","max_fps":30,"also_fps":5}',
    '{"view":"sent","max_fps":30}',
  ]);
});

test("connects again by itself, each time a little later, until something arrives", () => {
  const w = world();
  w.reader.start();
  const delays = [500, 1000, 2000, 4000, 8000, 10_000, 10_000];
  for (const delay of delays) {
    w.last().onclose?.({} as never);
    assert.equal(w.told.at(-1), `lost ${delay}`);
    w.fire(delay);
  }
  assert.equal(w.sockets.length, delays.length + 1);
  w.open();
  w.arrive(STATE);
  w.last().onclose?.({} as never);
  assert.equal(w.told.at(-1), "lost 500");
});

test("silence is a lost connection too", () => {
  const w = world();
  w.reader.start();
  w.open();
  w.arrive(STATE);
  w.fire(SILENCE_MS);
  assert.equal(w.told.at(-1), "lost 500");
  assert.equal(w.last().closed, true);
});

test("a broken message is told and does not end the stream", () => {
  const w = world();
  w.reader.start();
  w.open();
  w.arrive(Uint8Array.from([77, 0, 0, 0, 0, 0, 0, 0]).buffer);
  w.arrive(STATE);
  assert.deepEqual(w.told, ["open", "broken", "state"]);
});

test("stops for good, and can be hurried while it waits", () => {
  const w = world();
  w.reader.start();
  w.last().onclose?.({} as never);
  w.reader.retryNow();
  assert.equal(w.sockets.length, 2);
  w.reader.stop();
  assert.equal(w.last().closed, true);
  assert.equal(w.timers.size, 0);
  w.reader.retryNow();
  assert.equal(w.sockets.length, 2);
});
