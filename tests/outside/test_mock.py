"""The made-up daemon that pages are tested against serves what the real one's API describes."""

import json
import subprocess
import unittest

from daemon import PATIENCE_S, ROOT, Daemon
from described import PATHS, faults, schema

# Serves each of the mock's floors in turn and prints what is answered at the paths.
SERVE = """
import { huge, stage } from "./tests/mock-floor.mjs";
import { startMock } from "./tests/mock-server.mjs";
const answers = {};
for (const [name, model] of Object.entries({ stage: stage(), watched: stage({ watchOnly: true }), white: stage({ white: true, simulated: true }), huge: huge() })) {
  const mock = await startMock({ model });
  answers[name] = {};
  for (const path of process.argv.slice(1)) {
    answers[name][path] = await (await fetch(mock.url + path)).json();
  }
  await mock.stop();
}
process.stdout.write(JSON.stringify(answers));
"""


class Mock(unittest.TestCase):
    def test_every_document_is_as_the_daemon_describes_it(self):
        with Daemon("demo") as demo:
            document = demo.get("/api/v1/openapi.json")
        served = subprocess.run(
            ["node", "--input-type=module", "--eval", SERVE, *PATHS],
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
            print(f"{name}: {len(PATHS)} documents as described")


if __name__ == "__main__":
    unittest.main()
