"""The API's description is sound, and what is served has the shape that it describes."""

import unittest

from openapi_spec_validator import OpenAPIV31SpecValidator, validate

from bench import Bench
from daemon import Daemon
from described import PATHS, faults, schema


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


if __name__ == "__main__":
    unittest.main()
