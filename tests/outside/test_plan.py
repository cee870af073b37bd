"""`litfloor plan` recomputed with numpy from its own reading of the files in config/.

The rules are written here anew: idle plus colours, P / (V · power factor · efficiency), the next
size of ISO 8820-3 for 1.25 × the load, tables of IEC 60228 and ASTM B258, copper 0.393 % a kelvin,
and Kirchhoff's laws as one dense system of equations for every feed. Nothing of the program's is used.
"""

import json
import pathlib
import subprocess
import tempfile
import unittest

import numpy

from daemon import LITFLOOR, ROOT
from plan_floor import Floor

FLOORS = ["first-floor", "demo", "large-floor"]
BLADE_A = [1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 40]
PLACES = 6


def told(path, *arguments):
    command = [LITFLOOR, "plan", str(path), "--format", "json", *arguments]
    return json.loads(subprocess.run(command, check=True, capture_output=True).stdout)


def by_name(rows):
    return {row["name"]: row for row in rows}


class Plan(unittest.TestCase):
    def floors(self):
        for name in FLOORS:
            path = ROOT / "config" / f"{name}.toml"
            with self.subTest(floor=name):
                yield Floor(path.read_text()), told(path, "--mains", "208", "--typical", "0.3")

    def test_currents_from_panels_to_the_mains(self):
        figures = 0
        for floor, plan in self.floors():
            cases = [load["case"] for load in plan["floor"]["loads"]]
            self.assertEqual(cases, ["full white", "typical 30 %", "red", "green", "blue", "dark"])
            levels = [(1, 1, 1), (0.3, 0.3, 0.3), (1, 0, 0), (0, 1, 0), (0, 0, 1), (0, 0, 0)]
            for at, level in enumerate(levels):
                feeds = floor.feed_amperes(level)
                supplies, circuits = floor.above(feeds)
                other = floor.above(feeds, mains_volts=208)[1]
                for rows, key, expected in [
                    (plan["feeds"], "draw_a", feeds),
                    (plan["supplies"], "draw_a", supplies),
                    (plan["circuits"], "mains_a", circuits),
                    (plan["circuits_at_other_volts"], "mains_a", other),
                ]:
                    rows = by_name(rows)
                    self.assertEqual(rows.keys(), expected.keys())
                    for name, amperes in expected.items():
                        self.assertAlmostEqual(rows[name]["loads"][at][key], amperes, PLACES)
                        figures += 1
                self.assertAlmostEqual(plan["floor"]["loads"][at]["draw_a"], sum(feeds.values()), PLACES)
        print(f"{figures} currents")

    def test_fuses_and_shorts(self):
        for floor, plan in self.floors():
            white = floor.feed_amperes((1, 1, 1))
            for name, row in by_name(plan["feeds"]).items():
                needed = 1.25 * white[name]
                next_a = next((size for size in BLADE_A if size >= needed - 1e-9), None)
                self.assertEqual(row["next_fuse_a"], next_a)
                for key, celsius in [("cold", 20), ("warm", floor.copper_c)]:
                    ohm = floor.longest_way_ohm(name, celsius)
                    self.assertAlmostEqual(row["short"][f"{key}_ohm"], ohm, PLACES)
                    volts, most = floor.short(name)
                    amperes = min(volts / ohm, most) if ohm else most
                    self.assertAlmostEqual(row["short"][f"{key}_a"], amperes, PLACES)
                times = amperes / row["fuse_a"]
                opens = "never" if times < 1.35 else "slowly" if times < 2 else "soon"
                self.assertEqual(row["short"]["opens"], opens)

    def test_voltages(self):
        worst = 0.0
        for floor, plan in self.floors():
            for row in plan["feeds"][:12]:
                for case in row["volts_behind"]["cases"]:
                    share = 1.0 if case["case"] == "full white" else 0.3
                    lowest, cable_end = floor.voltages(row["name"], share)
                    self.assertAlmostEqual(case["lowest_v"], lowest, delta=0.002)
                    self.assertAlmostEqual(case["cable_end_v"], cable_end, delta=0.002)
                    worst = max(worst, abs(case["lowest_v"] - lowest))
        print(f"no voltage differs by more than {worst * 1e3:.4f} mV")

    def test_the_worked_fuse_that_never_opens(self):
        """10 m of 24 AWG, 1.684 ohm out and back: 7.1 A from 12 V, and a 10 A fuse stays closed."""
        text = (ROOT / "config" / "first-floor.toml").read_text()
        text = text.replace("fuse_a = 7.5", "fuse_a = 10").replace("rated_a = 10\n", "rated_a = 60\n", 1)
        text = text.replace("cable = { length_m = 3, mm2 = 2.5 }", "cable = { length_m = 10, awg = 24 }")
        text = text.replace("tail = { length_m = 0.5, mm2 = 1.0 }", "")
        with tempfile.TemporaryDirectory() as directory:
            path = pathlib.Path(directory, "floor.toml")
            path.write_text(text)
            plan = told(path)
        short = plan["feeds"][0]["short"]
        self.assertEqual(f"{short['cold_ohm']:.3f} {short['cold_a']:.1f}", "1.684 7.1")
        fire = [found["text"] for found in plan["findings"] if found["danger"] == "fire"]
        self.assertTrue(any("draws 7.1 A and never opens the 10 A fuse" in text for text in fire), fire)


if __name__ == "__main__":
    numpy.seterr(all="raise")
    unittest.main()
