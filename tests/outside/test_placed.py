"""The floor file as its panels are placed: Python's own TOML reader finds the same floor but for its serials,
and patch(1) makes the new file of the old one and litfloor's diff, and the old one back.
"""

import http.client
import json
import pathlib
import random
import re
import subprocess
import tempfile
import tomllib
import unittest
import urllib.error
import urllib.request

from daemon import LITFLOOR, PATIENCE_S, Daemon

# Two runs by hand, one of which has no serials yet, and comments wherever they may stand.
FLOOR = """# A floor that is only watched.
name = "placed"   # by hand
[grid]
columns = 8
rows = 5
panel_mm = [500, 500]
panel = "tile"
[pixel.p]
slots = "RGB"
volts = 12
full_ma = { red = 20, green = 20, blue = 20 }
idle_ma = 1
[panel.tile]
pixel = "p"
columns = 3
rows = 2
# The upper rows.
[[run]]
start = "0:0:1"
panels = ["A1..H1",   # by the stage
  "A2..H2"]
serials = [
    # as they came from the van
    "P001..P008",   # the first box
    "Q-1", "Q-2", "Q-3", "Q-4", "Q-5", "Q-6", "Q-7", "Q-8",   # the second
]   # all of them
[[run]]
start = "0:0:2"   # the lower ones
panels = ["A3..H5"]
# What feeds them.
[[circuit]]
name = "c"
volts = 230
rated_a = 16
[[supply]]
name = "s"
circuit = "c"
volts = 12
rated_a = 60
efficiency = 0.9
power_factor = 0.9
[[feed]]
name = "f"
supply = "s"
fuse_a = 50
positions = ["A1..H5"]   # the end"""

POSITIONS = [f"{column}{row}" for row in range(1, 6) for column in "ABCDEFGH"]
LINES = {"usual": FLOOR + "\n", "windows": (FLOOR + "\n").replace("\n", "\r\n"), "unended": FLOOR}


def expanded(serials):
    """Serials one by one; a range is written P001..P064."""
    for text in serials:
        first, _, last = text.partition("..")
        if not last:
            yield first
            continue
        head, digits = re.fullmatch(r"(.*?)(\d+)", first).groups()
        for number in range(int(digits), int(re.search(r"\d+$", last)[0]) + 1):
            yield f"{head}{number:0{len(digits)}}"


def without_serials(text):
    """The floor that a file says but for its serials, and these in wiring order."""
    said = tomllib.loads(text)
    serials = [list(expanded(run.pop("serials", []))) for run in said["run"]]
    return said, serials


def comments(text):
    return re.findall(r"#.*", text.replace("\r", ""))


def place(url, serial, position):
    """As the page does; raises what is refused."""
    body = json.dumps({"serial": serial, "position": position, "who": "Ida"}).encode()
    request = urllib.request.Request(f"{url}/api/v1/book/placed", body, {"content-type": "application/json"})
    with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
        assert answer.status == http.client.OK


def bytes_at(url, path):
    with urllib.request.urlopen(f"{url}{path}", timeout=PATIENCE_S) as answer:
        return answer.read()


class Placed(unittest.TestCase):
    def test_a_floor_is_rewritten_as_it_is_placed(self):
        for seed, (name, old) in enumerate(LINES.items()):
            with self.subTest(name), tempfile.TemporaryDirectory() as scratch:
                self._rewritten(random.Random(seed), old, pathlib.Path(scratch))

    def _rewritten(self, chance, old, scratch):
        # With a blank in it: patch must find it all the same.
        file = scratch / "the floor.toml"
        file.write_bytes(old.encode())
        was, before = without_serials(old.replace("\r\n", "\n"))
        # A few panels of the first run change places; the second run is laid in any order.
        upper = list(before[0])
        one, other, third = chance.sample(range(len(upper)), 3)
        upper[one], upper[other] = upper[other], upper[one]
        upper[third] = "spare-1"
        lower = [f"R{number:02}" for number in range(24)]
        chance.shuffle(lower)
        with Daemon("run", str(file), "--state", str(scratch / "state")) as daemon:
            self.assertEqual(daemon.get("/api/v1/book/diff"), {"diff": ""})
            lies = dict(zip(POSITIONS, before[0]))
            for serial, position in zip(upper + lower, POSITIONS):
                if lies.get(position) != serial:
                    place(daemon.url, serial, position)
            diff = daemon.get("/api/v1/book/diff")["diff"]
            new = bytes_at(daemon.url, "/api/v1/book/floor.toml")
        text = new.decode()
        said, serials = without_serials(text.replace("\r\n", "\n"))
        self.assertEqual(serials, [upper, lower])
        self.assertEqual(said, was)
        self.assertEqual(comments(text), comments(old))
        self.assertEqual(text.count("\r\n"), text.count("\n") if "\r" in old else 0)
        self.assertEqual(text.endswith("\n"), old.endswith("\n"))
        self.assertLess(max(map(len, text.splitlines())), 120)

        # As somebody would who has the diff and the file beside it.
        patch = scratch / "change.diff"
        patch.write_bytes(diff.encode())
        self._patch(scratch, patch)
        self.assertEqual(file.read_bytes(), new)
        checked = subprocess.run([LITFLOOR, "check", str(file)], capture_output=True, timeout=PATIENCE_S)
        self.assertEqual(checked.returncode, 0, checked.stderr.decode())
        self._patch(scratch, patch, "--reverse")
        self.assertEqual(file.read_bytes(), old.encode())
        print(f"{len(diff.splitlines())} lines of diff, applied and taken back")

    def _patch(self, scratch, patch, *more):
        # What the lines end with is part of them.
        done = subprocess.run(
            ["patch", "--binary", "--batch", "--strip=0", f"--input={patch}", *more],
            cwd=scratch, capture_output=True, text=True, timeout=PATIENCE_S,
        )
        self.assertEqual(done.returncode, 0, done.stdout + done.stderr)
        self.assertNotRegex(done.stdout, "fuzz|offset")

    def test_a_gap_in_a_run_is_told(self):
        with tempfile.TemporaryDirectory() as scratch:
            file = pathlib.Path(scratch, "floor.toml")
            file.write_text(FLOOR)
            with Daemon("run", str(file), "--state", str(pathlib.Path(scratch, "state"))) as daemon:
                place(daemon.url, "P001", "A5")
                with self.assertRaises(urllib.error.HTTPError) as refused:
                    bytes_at(daemon.url, "/api/v1/book/floor.toml")
                self.assertEqual(refused.exception.code, http.client.CONFLICT)
                told = json.load(refused.exception)
                refused.exception.close()
        self.assertEqual(told["error"], "not_all_placed")
        self.assertIn("A1", told["message"])


if __name__ == "__main__":
    unittest.main()
