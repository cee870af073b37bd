"""The API's description is sound, and what is served has the shape that it describes."""

import unittest

from openapi_spec_validator import OpenAPIV31SpecValidator, validate

from bench import Bench
from daemon import Daemon
from described import BOOK_PANEL, BOOK_PATHS, PATHS, faults, schema


class Api(unittest.TestCase):
    def test_the_description_is_openapi_and_what_is_served_keeps_it(self):
        with Daemon("demo") as demo:
            self.check(demo)

    def test_a_floor_that_is_run_keeps_it_too(self):
        with Bench() as bench:
            bench.show()
            self.check(bench.daemon)

    def check(self, daemon):
        document = daemon.get("/api/v1/openapi.json")
        self.assertTrue(document["openapi"].startswith("3.1"), document["openapi"])
        validate(document, cls=OpenAPIV31SpecValidator)
        daemon.until(lambda state: state["frames_out"] and state["universes"][0]["sources"])
        for path in PATHS:
            answer = daemon.get(path)
            wanted = schema(document, path)
            self.assertEqual(faults(wanted, answer), [], path)
            # The check itself can fail: each required key is missed, a strange type is found.
            for key in answer:
                less = {name: value for name, value in answer.items() if name != key}
                self.assertFalse(wanted.is_valid(less), f"{path} without {key} passes")
                self.assertFalse(wanted.is_valid(answer | {key: object()}), f"{path}: {key}")
            print(f"{path}: {len(answer)} keys as described")
        self.check_book(daemon, document)

    def check_book(self, daemon, document):
        """What people write into the book is answered, and comes back, as described."""
        who = {"who": "Ida"}
        signature = {"dark_a": 0.04, "white_a": 1.43}
        place = {"serial": "Q1", "position": daemon.get("/api/v1/floor")["panels"][0]["position"]}
        wishes = [
            ("/api/v1/book/placed", "/api/v1/book/placed", place | who),
            ("/api/v1/book/panels/{serial}/notes", "/api/v1/book/panels/Q1/notes", {"text": "A new plug."} | who),
            ("/api/v1/book/panels/{serial}/bench", "/api/v1/book/panels/Q1/bench", {"passed": True, "signature": signature} | who),
            ("/api/v1/book/faults", "/api/v1/book/faults", {"serial": "Q1", "text": "Cracked."} | who),
        ]
        for described, path, wish in wishes:
            status, answer = daemon.post(path, wish)
            self.assertEqual(status, 200, answer)
            self.assertEqual(faults(schema(document, described, "post"), answer), [], path)
            status, refusal = daemon.post(path, wish | {"who": " "})
            self.assertEqual(status, 422, refusal)
            self.assertEqual(faults(schema(document, described, "post", "422"), refusal), [], path)
        for path in BOOK_PATHS:
            answer = daemon.get(path)
            self.assertTrue(answer, path)
            self.assertEqual(faults(schema(document, path), answer), [], path)
        panel, wanted = daemon.get("/api/v1/book/panels/Q1"), schema(document, BOOK_PANEL)
        self.assertEqual(faults(wanted, panel), [])
        self.assertEqual(panel["benches"][0]["signature"], signature)
        for key in panel:
            less = {name: value for name, value in panel.items() if name != key}
            self.assertFalse(wanted.is_valid(less), f"a panel without {key} passes")


if __name__ == "__main__":
    unittest.main()
