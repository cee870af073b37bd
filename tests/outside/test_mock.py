"""The made-up daemon that pages are tested against serves what the real one's API describes."""

import json
import subprocess
import unittest

from daemon import PATIENCE_S, ROOT, Daemon
from described import BOOK_PATHS, PATHS, faults, schema

# Serves each of the mock's floors in turn and prints what is answered at the paths.
SERVE = """
import { huge, stage } from "./tests/mock-floor.mjs";
import { startMock } from "./tests/mock-server.mjs";
const answers = {};
const BOOK = process.argv.slice(1).filter((path) => path.includes("/book/"));
for (const [name, model] of Object.entries({ stage: stage(), watched: stage({ watchOnly: true }), white: stage({ white: true, simulated: true }), huge: huge() })) {
  const mock = await startMock({ model });
  answers[name] = {};
  for (const path of process.argv.slice(1)) {
    answers[name][path] = await (await fetch(mock.url + path)).json();
  }
  const order = async (method, path, body) => {
    const headers = body ? { "content-type": "application/json" } : {};
    const answer = await fetch(mock.url + path, { method, headers, body: JSON.stringify(body) });
    return { method: method.toLowerCase(), path, status: `${answer.status}`, body: await answer.json() };
  };
  const walk = { pattern: { kind: "walk", run: null, pace: { held: 0 } }, cover: "all", level: 128, colour: "white", lasts_s: 300 };
  answers[name].orders = [
    await order("POST", "/api/v1/pattern", walk),
    await order("POST", "/api/v1/pattern/step", { by: 1 }),
    await order("POST", "/api/v1/pattern", { ...walk, ends_with: "nobody" }),
  ];
  const joint = { position: model.floor.panels[0].position, segment: 2, fault: "stuck" };
  answers[name].simulation = [
    await order("POST", "/api/v1/simulation", joint),
    await order("POST", "/api/v1/simulation", { ...joint, position: "Z99" }),
    await order("POST", "/api/v1/simulation", { ...joint, fault: "colour_open" }),
  ];
  const [serial] = model.floor.panels.map((panel) => panel.serial).filter(Boolean).concat("M017");
  const book = { method: "get", status: "200" };
  answers[name].book = [
    ...(await Promise.all(BOOK.map(async (path) => ({ ...book, path, body: await (await fetch(mock.url + path)).json() })))),
    { ...book, path: "/api/v1/book/panels/{serial}", body: await (await fetch(`${mock.url}/api/v1/book/panels/${serial}`)).json() },
    await order("POST", "/api/v1/book/faults", { serial, text: "Cracked.", who: "Ida" }),
  ];
  answers[name].range = await (await fetch(mock.url + "/api/v1/history?from=0&to=21600&points=10")).json();
  answers[name].during = await (await fetch(mock.url + "/api/v1/state")).json();
  answers[name].orders.push(await order("DELETE", "/api/v1/pattern"));
  await mock.stop();
}
process.stdout.write(JSON.stringify(answers));
"""


class Mock(unittest.TestCase):
    def test_every_document_is_as_the_daemon_describes_it(self):
        with Daemon("demo") as demo:
            document = demo.get("/api/v1/openapi.json")
        served = subprocess.run(
            ["node", "--input-type=module", "--eval", SERVE, *PATHS, *BOOK_PATHS],
            cwd=ROOT / "web", stdout=subprocess.PIPE, check=True, timeout=10 * PATIENCE_S,
        )
        answers = json.loads(served.stdout)
        self.assertEqual(set(answers), {"stage", "watched", "white", "huge"})
        for name, answered in answers.items():
            for path in PATHS:
                wanted = schema(document, path)
                # Where a fault is in many elements, the first few tell.
                self.assertEqual(faults(wanted, answered[path])[:10], [], f"{name}: {path}")
                # The check itself can fail: a strange key is found, a missing one is missed.
                self.assertFalse(wanted.is_valid(answered[path] | {"strange": 1}), path)
                for key in answered[path]:
                    less = {name: value for name, value in answered[path].items() if name != key}
                    self.assertFalse(wanted.is_valid(less), f"{path} without {key} passes")
            self._orders(document, name, answered)
            print(f"{name}: {len(PATHS)} documents and {len(answered['orders'])} orders as described")

    def _orders(self, document, name, answered):
        watched = name == "watched"
        wanted = ["422", "422", "422", "200"] if watched else ["200", "200", "422", "200"]
        self.assertEqual([order["status"] for order in answered["orders"]], wanted)
        for order in answered["orders"]:
            described = schema(document, order["path"], order["method"], order["status"])
            self.assertEqual(faults(described, order["body"])[:10], [], f"{name}: {order}")
            self.assertFalse(described.is_valid({}), order["path"])
        simulated = ["200", "422", "422"] if name == "white" else ["404"] * 3
        self.assertEqual([order["status"] for order in answered["simulation"]], simulated)
        for order in answered["simulation"]:
            described = schema(document, order["path"], order["method"], order["status"])
            self.assertEqual(faults(described, order["body"])[:10], [], f"{name}: {order}")
        for answer in answered["book"]:
            described = schema(document, answer["path"], answer["method"], answer["status"])
            self.assertEqual(faults(described, answer["body"])[:10], [], f"{name}: {answer['path']}")
        range = schema(document, "/api/v1/history")
        self.assertEqual(faults(range, answered["range"])[:10], [], name)
        during = answered["during"]
        self.assertEqual(faults(schema(document, "/api/v1/state"), during)[:10], [], name)
        self.assertEqual(during["pattern"] is None, watched, name)


if __name__ == "__main__":
    unittest.main()
