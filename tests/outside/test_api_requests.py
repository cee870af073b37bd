"""Requests that schemathesis makes up from the API's own description, right ones and wrong ones: nothing
fails inside, and every answer is one that is described.

What a request may mean is not part of a description: a right request that this floor can't follow is
answered 422, which is described, so `positive_data_acceptance` is left out.
"""

import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile
import unittest
import urllib.request

import daemon as running
from daemon import Daemon

SCHEMATHESIS = pathlib.Path(sys.executable).parent / "schemathesis"

# What is made up is always the same.
SEED = "20261128"

DESCRIBED = [
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_headers_conformance",
    "response_schema_conformance",
    "unsupported_method",
    "allow_header_conformance",
]
SIGNED_IN = [
    *DESCRIBED,
    "negative_data_rejection",
    "missing_required_header",
    "ignored_auth",
    "use_after_free",
    "ensure_resource_availability",
]

PASSPHRASE, TOKEN = "the floor of the test", "a token of the test"

# Who signs out, or sets another passphrase, is let in nowhere from then on.
OF_THE_SESSION = ["/api/v1/session", "/api/v1/passphrase"]


class Requests(unittest.TestCase):
    def test_who_is_on_this_machine_gets_the_answers_that_are_described(self):
        with self.demo({}) as demo:
            self.ask(demo, 20, DESCRIBED, left_out=OF_THE_SESSION)
            self.ask(demo, 8, DESCRIBED, only=OF_THE_SESSION)

    def test_who_has_signed_in_gets_them_too_and_nobody_else_gets_in(self):
        given = {"LITFLOOR_PASSPHRASE": PASSPHRASE, "LITFLOOR_READINGS_TOKEN": TOKEN}
        with self.demo(given) as demo:
            request = urllib.request.Request(
                demo.url + "/api/v1/session",
                json.dumps({"passphrase": PASSPHRASE}).encode(),
                {"Content-Type": "application/json", "Origin": demo.url},
            )
            with urllib.request.urlopen(request, timeout=running.PATIENCE_S) as answer:
                session = answer.headers["Set-Cookie"].split(";")[0].split("=")[1]
            # It takes both off again, to see that nobody gets in without.
            known = f'[auth.openapi.session]\napi_key = "{session}"\n[auth.openapi.readings]\nbearer = "{TOKEN}"\n'
            self.ask(demo, 25, SIGNED_IN, known, left_out=OF_THE_SESSION)

    def demo(self, environment):
        """A demo that keeps nothing and finds nothing kept."""
        before = running.ENVIRONMENT
        running.ENVIRONMENT = before | environment
        try:
            return Daemon("demo")
        finally:
            running.ENVIRONMENT = before

    def ask(self, demo, seconds, checks, known="", only=(), left_out=()):
        with tempfile.TemporaryDirectory() as directory:
            config = pathlib.Path(directory, "schemathesis.toml")
            config.write_text(known)
            done = subprocess.run(
                [
                    SCHEMATHESIS, "--config-file", config, "run", demo.url + "/api/v1/openapi.json", "--no-color", "--seed", SEED,
                    "--checks", ",".join(checks), "--max-time", str(seconds), "--max-examples", "20",
                    "--workers", "2", "--generation-database", "none", "--request-timeout", "20",
                    "--suppress-health-check", "all", "--warnings", "off",
                    "--header", f"Origin: {demo.url}",
                    *(part for path in only for part in ("--include-path", path)),
                    *(part for path in left_out for part in ("--exclude-path", path)),
                ],
                cwd=directory,
                env={**os.environ, "HOME": directory},
                text=True,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                timeout=10 * seconds,
            )
        self.assertEqual(done.returncode, 0, done.stdout)
        tested = re.search(r"Tested: (\d+)", done.stdout)
        cases = re.search(r"(\d+) generated, (\d+) passed", done.stdout)
        self.assertTrue(tested and cases, done.stdout)
        described = len(only) or 40
        self.assertGreaterEqual(int(tested[1]), described)
        self.assertGreater(int(cases[1]), 10 * described)
        # Whatever was asked, it serves and the frames go on.
        frames = demo.get("/api/v1/state")["frames_out"]
        demo.until(lambda state: state["frames_out"] > frames)
        print(f"{tested[1]} operations, {cases[1]} requests, {len(checks)} checks: no mismatch")


if __name__ == "__main__":
    unittest.main()
