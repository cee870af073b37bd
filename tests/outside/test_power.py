"""The full-white amperes of the floors in config/, recomputed from the files with numpy.

The arithmetic is written here from the rules alone: every pixel draws its idle current and all
its colours at full; a supply takes P / (V · power factor · efficiency) from the mains.
"""

import json
import subprocess
import tomllib
import unittest

import numpy

from daemon import LITFLOOR, ROOT


def positions(texts, rows=None):
    """`["A1", "B2..C3"]` as a set of (column, row), counted from 0; one letter is enough here."""
    found = set()
    for text in texts:
        first, _, last = text.partition("..")
        (c0, r0), (c1, r1) = [(ord(t[0]) - 65, int(t[1:]) - 1) for t in (first, last or first)]
        found |= {
            (column, row)
            for column in range(min(c0, c1), max(c0, c1) + 1)
            for row in range(min(r0, r1), max(r0, r1) + 1)
        }
    return found


class Sums:
    """Full-white amperes of one floor file."""

    def __init__(self, text):
        file = tomllib.loads(text)
        grid = file["grid"]
        self.margin = file.get("cap", {}).get("margin", 0.8)
        self.panel_a = numpy.full((grid["columns"], grid["rows"]), numpy.nan)
        self.pixels = 0
        empty = positions(grid.get("empty", []))
        own = {place: name for name, kind in file["panel"].items() for place in positions(kind.get("at", []))}
        for place in numpy.ndindex(self.panel_a.shape):
            if place in empty:
                continue
            kind = file["panel"][own.get(place, grid["panel"])]
            count = len(kind["pixels_mm"]) if "pixels_mm" in kind else kind["columns"] * kind["rows"]
            pixel = file["pixel"][kind["pixel"]]
            self.panel_a[place] = count * (pixel["idle_ma"] + sum(pixel["full_ma"].values())) / 1000
            self.pixels += count
        self.panels = int(numpy.isfinite(self.panel_a).sum())
        self.feeds = {
            feed["name"]: (self.panel_a[tuple(zip(*positions(feed["positions"])))].sum(), feed["fuse_a"])
            for feed in file["feed"]
        }
        self.supplies, self.circuits = {}, {}
        for supply in file["supply"]:
            amps = sum(self.feeds[feed["name"]][0] for feed in file["feed"] if feed["supply"] == supply["name"])
            self.supplies[supply["name"]] = (amps, supply["rated_a"])
        for circuit in file["circuit"]:
            mains = [
                self.supplies[supply["name"]][0] * supply["volts"]
                / (circuit["volts"] * supply["power_factor"] * supply["efficiency"])
                for supply in file["supply"]
                if supply["circuit"] == circuit["name"]
            ]
            self.circuits[circuit["name"]] = (sum(mains), circuit["rated_a"])


class Power(unittest.TestCase):
    def test_full_white_of_the_demo_floor(self):
        self.compare("demo.toml")

    def test_full_white_of_the_first_floor(self):
        self.compare("first-floor.toml")

    def compare(self, name):
        path = ROOT / "config" / name
        sums = Sums(path.read_text())
        command = [LITFLOOR, "check", "--format", "json", str(path)]
        told = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)
        self.assertEqual((told["panels"], told["pixels"]), (sums.panels, sums.pixels))
        for level in ["feeds", "supplies", "circuits"]:
            expected = getattr(sums, level)
            self.assertEqual([load["name"] for load in told[level]], list(expected))
            for load in told[level]:
                amps, rated_a = expected[load["name"]]
                # Draw is kept in whole microamperes or finer for each pixel.
                numpy.testing.assert_allclose(load["full_white_a"], amps, rtol=1e-6)
                numpy.testing.assert_allclose(load["limit_a"], rated_a * sums.margin, rtol=1e-9)
        total = numpy.nansum(sums.panel_a)
        self.assertAlmostEqual(sum(load["full_white_a"] for load in told["supplies"]), total, places=4)
        every = {load: round(float(amps), 3) for load, (amps, _) in {**sums.supplies, **sums.circuits}.items()}
        print(f"{name}: {sums.panels} panels, {sums.pixels} pixels, {total:.4f} A: {every}")

    def test_the_arithmetic_here_is_that_of_the_worked_examples(self):
        # Common practice, no source: 64 panels of 120 LEDs, 60 LEDs/m and 14.4 W/m at 12 V draw
        # 153.6 A together, 2.4 A each: 40 pixels of 60 mA. Worked example: 2,400 W at efficiency
        # 0.88 and power factor 0.95 take 12.482 A from 230 V.
        text = """
            grid = { columns = 8, rows = 8, panel = "p" }
            pixel.s = { idle_ma = 0, full_ma = { red = 20, green = 20, blue = 20 } }
            panel.p = { pixel = "s", columns = 5, rows = 8 }
            circuit = [{ name = "c", volts = 230, rated_a = 16 }]
            supply = [{ name = "s", circuit = "c", volts = 15.625, rated_a = 200, efficiency = 0.88, power_factor = 0.95 }]
            feed = [{ name = "f", supply = "s", fuse_a = 200, positions = ["A1..H8"] }]
        """
        sums = Sums(text)
        numpy.testing.assert_allclose(sums.supplies["s"][0], 153.6)
        numpy.testing.assert_allclose(sums.circuits["c"][0], 12.482, atol=5e-4)
        numpy.testing.assert_allclose(sums.supplies["s"][0] / 200, 0.768)


if __name__ == "__main__":
    unittest.main()
