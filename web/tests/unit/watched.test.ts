import assert from "node:assert/strict";
import { test } from "node:test";
import { Watched } from "../../src/api/watched.ts";

/** A network whose answers come when the test says so. */
function network() {
  const asked: { path: string; answer(value: unknown, status?: number): void }[] = [];
  globalThis.fetch = ((path: string) =>
    new Promise((resolve) => {
      asked.push({ path, answer: (value, status = 200) => resolve(new Response(JSON.stringify(value), { status })) });
    })) as typeof fetch;
  const next = async (count: number) => {
    while (asked.length < count) await new Promise((resolve) => setImmediate(resolve));
    return asked[count - 1]!;
  };
  return { asked, next };
}

test("looks that come quicker than answers still count, and one more follows", async () => {
  const { asked, next } = network();
  const watched = new Watched<number>("/a");
  const done = watched.look();
  void watched.look();
  void watched.look();
  (await next(1)).answer(1);
  (await next(2)).answer(2);
  await done;
  assert.equal(watched.value.value, 2);
  assert.equal(asked.length, 2);
});

test("what a change answered is not overwritten by a look that set out before it", async () => {
  const { next } = network();
  const watched = new Watched<string>("/a");
  const done = watched.look();
  const first = await next(1);
  watched.put("after");
  first.answer("before");
  await done;
  assert.equal(watched.value.value, "after");
});

test("of something else nothing is known until it answers itself", async () => {
  const { asked, next } = network();
  const watched = new Watched<string>("/a");
  const done = watched.look();
  watched.turnTo("/b");
  (await next(1)).answer("of a");
  const second = await next(2);
  assert.equal(watched.value.value, undefined);
  second.answer("of b");
  await done;
  assert.deepEqual([watched.value.value, asked.map(({ path }) => path)], ["of b", ["/a", "/b"]]);
});

test("a failed look keeps what was seen, and says why", async () => {
  const { next } = network();
  const watched = new Watched<string>("/a");
  const good = watched.look();
  (await next(1)).answer("seen");
  await good;
  const bad = watched.look();
  (await next(2)).answer({ error: "book_damaged", message: "the book can't be read" }, 503);
  await bad;
  assert.deepEqual([watched.value.value, watched.failure.value?.code], ["seen", "book_damaged"]);
});
