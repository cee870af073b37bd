"""ngspice finds the same voltages in random feeds as litfloor.

Each random feed is written as a netlist with both rails, from the words of docs/floor-file.md alone,
and is solved by `ngspice -b`; examples/solve_networks.rs gives litfloor's answer to the same feed.
"""

import json
import pathlib
import random
import re
import subprocess
import tempfile
import unittest

from daemon import LITFLOOR

SOLVER = pathlib.Path(LITFLOOR).parent / "examples" / "solve_networks"
CASES = 60
# The worst node may be off by that much.
NEAR_V = 0.002
# A supply's current, as a share of it.
NEAR_SHARE = 1e-6


def random_panel(chance, biggest):
    pixels = chance.randint(1, biggest)
    hard = chance.choice([0.05, 0.3])
    dark = chance.choice([0.0, chance.uniform(4.0, 10.0), chance.uniform(8.0, 10.0)])
    kind = chance.choice(["constant-current", "resistive"])
    places = ["start", "end", "both", sorted(chance.sample(range(pixels), min(pixels, chance.randint(1, 3))))]
    full = chance.uniform(0.03, 0.3)
    return {
        "tail_ohm": chance.choice([0.0, chance.uniform(0.005, 0.1)]),
        "section_ohm": [chance.uniform(0.005, hard) for _ in range(pixels + 1)],
        "fed": chance.choice(places),
        "kind": kind,
        "dark_volts": dark,
        "full_volts": dark + chance.uniform(0.3, 2.0),
        "nominal_volts": 12.0,
        "idle_a": chance.choice([0.0, chance.uniform(0.0005, 0.01)]),
        "unused_pixels": chance.choice([0, 0, 2]),
        "pixel_a": [full * chance.choice([0.0, 1.0, 1.0, chance.random()]) for _ in range(pixels)],
    }


def random_feed(chance, at):
    """Single strips first, then whole feeds: stars, chains, and chains with a cable at both ends."""
    alone = at % 4 == 0
    linked = at % 4 >= 2
    return {
        "volts": chance.choice([12.0, 12.5, 11.8]),
        "cable_ohm": chance.uniform(0.02, 0.5),
        "link_ohm": chance.uniform(0.005, 0.1) if linked else None,
        "far_ohm": chance.uniform(0.02, 0.2) if at % 4 == 3 else None,
        "panels": [random_panel(chance, 100 if alone else 30) for _ in range(1 if alone else chance.randint(2, 6))],
    }


class Netlist:
    """A feed as text for ngspice; every resistance is halved between the two rails."""

    def __init__(self, feed):
        self.lines = ["a feed", f"Vs s+ s- {feed['volts']!r}", "Vground s- 0 0"]
        self.parts = 0
        self.points = []
        at = "h0"
        self.wire("s", at, feed["cable_ohm"])
        for number, panel in enumerate(feed["panels"]):
            if number and feed["link_ohm"]:
                self.wire(at, f"h{number}", feed["link_ohm"])
                at = f"h{number}"
            self.panel(f"p{number}", at, panel)
        if feed["link_ohm"] and feed["far_ohm"]:
            self.wire("s", at, feed["far_ohm"])

    def part(self, kind, rest):
        self.parts += 1
        self.lines.append(f"{kind}{self.parts} {rest}")

    def wire(self, one, other, ohm):
        for rail in "+-":
            if ohm:
                self.part("R", f"{one}{rail} {other}{rail} {ohm / 2!r}")
            else:
                self.part("V", f"{one}{rail} {other}{rail} 0")

    def idle(self, at, panel, count=1):
        if panel["idle_a"] and count:
            self.part("R", f"{at}+ {at}- {panel['nominal_volts'] / panel['idle_a'] / count!r}")

    def panel(self, name, at, panel):
        entry = f"{name}in"
        self.wire(at, entry, panel["tail_ohm"])
        self.idle(entry, panel, panel["unused_pixels"])
        pixels = len(panel["pixel_a"])
        fed, sections = panel["fed"], panel["section_ohm"]
        if fed in ("start", "both"):
            self.wire(entry, f"{name}x0", sections[0])
        if fed in ("end", "both"):
            self.wire(entry, f"{name}x{pixels - 1}", sections[pixels])
        if isinstance(fed, list):
            for pixel in fed:
                self.wire(entry, f"{name}x{pixel}", 0)
        for pixel in range(pixels - 1):
            self.wire(f"{name}x{pixel}", f"{name}x{pixel + 1}", sections[pixel + 1])
        for pixel, full in enumerate(panel["pixel_a"]):
            here = f"{name}x{pixel}"
            self.idle(here, panel)
            volts = f"V({here}+,{here}-)-{panel['dark_volts']!r}"
            if panel["kind"] == "resistive":
                span = panel["nominal_volts"] - panel["dark_volts"]
                self.part("B", f"{here}+ {here}- I={full!r}*max(0,({volts})/{span!r})")
            else:
                span = panel["full_volts"] - panel["dark_volts"]
                self.part("B", f"{here}+ {here}- I={full!r}*min(1,max(0,({volts})/{span!r}))")
        self.points.append([entry] + [f"{name}x{pixel}" for pixel in range(pixels)])

    def solve(self):
        """Input and lowest voltage of each panel, and the amperes of the supply."""
        asked = [point for points in self.points for point in points]
        text = self.lines + [".options gmin=1e-15 reltol=1e-7 abstol=1e-10 vntol=1e-7 itl1=1000", ".control"]
        text += ["set numdgt=12", "op"] + [f"print v({point}+)-v({point}-)" for point in asked]
        text += ["print i(vs)", "quit", ".endc", ".end", ""]
        with tempfile.TemporaryDirectory() as directory:
            path = pathlib.Path(directory, "feed.cir")
            path.write_text("\n".join(text))
            done = subprocess.run(["ngspice", "-b", path], capture_output=True, text=True, timeout=60)
        found = [float(value) for value in re.findall(r"^.* = (-?\d\.\d+e[+-]\d+)$", done.stdout, re.MULTILINE)]
        assert len(found) == len(asked) + 1, done.stdout + done.stderr
        volts = dict(zip(asked, found))
        panels = [(volts[points[0]], min(volts[point] for point in points[1:])) for points in self.points]
        return panels, -found[-1]


def solve_all(feeds):
    done = subprocess.run([SOLVER], input=json.dumps(feeds), capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


class Network(unittest.TestCase):
    def test_ngspice_finds_the_same_voltages(self):
        chance = random.Random(20_000)
        feeds = [random_feed(chance, at) for at in range(CASES)]
        worst, starved, steps = 0.0, 0, 0
        for number, (feed, ours) in enumerate(zip(feeds, solve_all(feeds))):
            self.assertTrue(ours["converged"])
            steps = max(steps, ours["steps"])
            panels, amps = Netlist(feed).solve()
            for panel, told, (input_v, lowest_v) in zip(feed["panels"], ours["panels"], panels):
                off = max(abs(told["input_v"] - input_v), abs(told["lowest_v"] - lowest_v))
                worst = max(worst, off)
                knee = panel["kind"] == "constant-current"
                starved += knee and told["light_a"] < 0.99 * sum(panel["pixel_a"])
                self.assertLess(off, NEAR_V, f"feed {number}")
            self.assertAlmostEqual(ours["drawn_a"], amps, delta=NEAR_SHARE * amps + 1e-6, msg=f"feed {number}")
        print(f"{CASES} feeds, {starved} panels below their knees: worst node {worst * 1e3:.2g} mV apart, {steps} steps at most")
        # Many drivers are below their knees, or nothing would have been compared but what is linear.
        self.assertGreater(starved, CASES // 3)

    def test_the_netlist_is_that_of_the_worked_example(self):
        # ngspice 39 and a closed form: 40 groups of 56.2 mA behind 5 m of 2.5 mm², 0.025 Ω a leg.
        panel = {
            "tail_ohm": 0.0, "section_ohm": [0.05] * 41, "fed": [0], "kind": "constant-current",
            "dark_volts": 9.0, "full_volts": 10.5, "nominal_volts": 12.0, "idle_a": 0.0,
            "unused_pixels": 0, "pixel_a": [0.0562] * 40,
        }
        feed = {"volts": 12.0, "cable_ohm": 0.0798, "link_ohm": None, "far_ohm": None, "panels": [panel]}
        [(_, lowest)], _ = Netlist(feed).solve()
        self.assertAlmostEqual(lowest, 10.037653995, places=6)
        [ours] = solve_all([feed])
        self.assertAlmostEqual(ours["panels"][0]["lowest_v"], 10.037653995, places=8)


if __name__ == "__main__":
    unittest.main()
