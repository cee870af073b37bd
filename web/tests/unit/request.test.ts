import assert from "node:assert/strict";
import { test } from "node:test";
import { ask, sentence } from "../../src/api/request";
import { Action } from "../../src/lib/action";

/** A network that answers this. */
const answering = (status: number, body: string | null) => async () => new Response(body, { status });

test("what is said goes as JSON, and a good answer comes back", async () => {
  let seen: [unknown, RequestInit | undefined] | null = null;
  const reply = await ask({ method: "POST", path: "/api/v1/pattern/step", body: { by: -1 } }, async (path, init) => {
    seen = [path, init];
    return new Response('{"pattern":null}', { status: 200 });
  });
  assert.deepEqual(reply, { ok: true, value: { pattern: null } });
  const [path, init] = seen!;
  assert.equal(path, "/api/v1/pattern/step");
  assert.equal(init?.method, "POST");
  assert.equal(init?.body, '{"by":-1}');
  assert.equal((init?.headers as Record<string, string>)["content-type"], "application/json");
});

test("without a body none is announced, for the daemon would look for JSON", async () => {
  const reply = await ask({ method: "DELETE", path: "/api/v1/session" }, async (_, init) => {
    assert.equal(init?.body, undefined);
    assert.equal("content-type" in (init?.headers as object), false);
    return new Response(null, { status: 204 });
  });
  assert.deepEqual(reply, { ok: true, value: null });
});

test("a refusal is told in the daemon's words", async () => {
  const body = JSON.stringify({ error: "wrong_passphrase", message: "this is not the operator's passphrase" });
  const reply = await ask({ method: "POST", path: "/" }, answering(401, body));
  assert.deepEqual(reply, { ok: false, failure: { kind: "refused", code: "wrong_passphrase", text: "This is not the operator's passphrase." } });
});

test("an answer of something else is not taken for the daemon's", async () => {
  for (const body of ["<h1>Bad gateway</h1>", "{}", "", "null"]) {
    const reply = await ask({ method: "POST", path: "/" }, answering(502, body));
    assert.ok(!reply.ok && reply.failure.kind === "refused" && reply.failure.code === "502", body);
    assert.match(reply.failure.text, /502/);
  }
});

test("without an answer it is not known whether it was done, and that is said", async () => {
  const down = await ask({ method: "POST", path: "/" }, async () => {
    throw new TypeError("Failed to fetch");
  });
  assert.ok(!down.ok && down.failure.kind === "unheard" && down.failure.code === "unreachable");
  assert.match(down.failure.text, /Whether it was done is not known/);
  // The answer never comes; the wait ends by the platform's own timer.
  const slow = await ask({ method: "POST", path: "/", patienceMs: 1 }, (_, init) =>
    new Promise((_resolve, reject) => {
      // Node does not stay alive for such a timer.
      const alive = setInterval(() => {}, 1000);
      init?.signal?.addEventListener("abort", () => {
        clearInterval(alive);
        reject(init.signal?.reason);
      });
    }),
  );
  assert.ok(!slow.ok && slow.failure.kind === "unheard" && slow.failure.code === "slow");
});

test("sentences begin large and end with a stop", () => {
  assert.equal(sentence("too many orders at once: try again"), "Too many orders at once: try again.");
  assert.equal(sentence("There is no run 7."), "There is no run 7.");
  assert.equal(sentence("litfloor is ending"), "litfloor is ending.");
});

test("an action runs once at a time, and keeps what went wrong until it is tried again", async () => {
  const action = new Action();
  let asked = 0;
  let answer: (failed: boolean) => void = () => {};
  const request = () => {
    asked += 1;
    return new Promise<{ ok: true; value: number } | { ok: false; failure: { kind: "refused"; code: string; text: string } }>((resolve) => {
      answer = (failed) => resolve(failed ? { ok: false, failure: { kind: "refused", code: "busy", text: "Busy." } } : { ok: true, value: 7 });
    });
  };
  const first = action.run(request);
  assert.equal(action.busy.value, true);
  assert.equal(await action.run(request), null);
  assert.equal(asked, 1);
  answer(true);
  assert.equal(await first, null);
  assert.deepEqual([action.busy.value, action.failure.value?.code], [false, "busy"]);
  const second = action.run(request);
  assert.equal(action.failure.value, null);
  answer(false);
  assert.deepEqual(await second, { value: 7 });
});
