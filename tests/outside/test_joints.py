"""ngspice finds the same currents behind broken joints as the simulated floor.

Each random floor is one feed of one to four panels, with open and resistive supply joints and open
links. Its netlist (test_network.Netlist) is written from the words of docs/floor-file.md and solved by
`ngspice -b`; examples/solve_real.rs gives the simulator's answer.
"""

import json
import pathlib
import random
import subprocess
import unittest

from daemon import LITFLOOR
from test_network import Netlist

SOLVER = pathlib.Path(LITFLOOR).parent / "examples" / "solve_real"
CASES = 40
# What is open, in ohms, where a netlist needs a number.
OPEN_OHM = 1e9
# A feed's current may be off by that much.
NEAR_A = 1e-4


def cable_ohm(length_m, mm2):
    """Out and back at 20 °C, copper of 1/58 Ω·mm²/m (IEC 60028)."""
    return 2 * length_m / 58 / mm2


class Case:
    """A random feed with broken joints: as a floor file, and as a netlist."""

    def __init__(self, chance, at):
        self.panels = chance.randint(1, 4)
        self.segments = [chance.randint(1, 6) for _ in range(chance.randint(2, 5))]
        self.pixels = sum(self.segments)
        self.fed = chance.choice(["start", "start", "end", "both"])
        self.piece_ohm = chance.choice([0.01, 0.05, 0.2])
        self.full_ma = round(chance.uniform(10, 60), 3)
        self.dark, self.full_volts = 9.0, 10.5
        self.linked = at % 2 == 0 and self.panels > 1
        # Hand-sized cables, so that nothing is below the milliohm that the simulator takes at least.
        self.cable_m, self.link_m, self.tail_m = 2.0, 1.0, 0.5
        self.levels = [[[chance.choice([0, 128, 255]) for _ in range(3)] for _ in range(self.pixels)] for _ in range(self.panels)]
        self.faults = []
        for panel in range(self.panels):
            for joint in chance.sample(range(1, len(self.segments)), chance.randint(0, min(2, len(self.segments) - 1))):
                kind = chance.choice(["open", "resistive"])
                self.faults.append({"panel": panel, "segment": joint, "kind": kind, "ohm": chance.uniform(0.5, 20)})
        if self.linked and chance.random() < 0.3:
            self.faults.append({"panel": chance.randrange(1, self.panels), "segment": 0, "kind": "link", "ohm": 0})

    def toml(self):
        positions = f"A1..{'ABCD'[self.panels - 1]}1"
        link = f"link = {{ length_m = {self.link_m}, mm2 = 1.5 }}\n" if self.linked else ""
        at = ", ".join(f"[{10 + 5 * pixel}, 10]" for pixel in range(self.pixels))
        return f"""name = "case"
[grid]
columns = {self.panels}
rows = 1
panel_mm = [500, 500]
panel = "p"
[plan]
copper_c = 20
[pixel.d]
slots = "RGB"
volts = 12
dark_volts = {self.dark}
full_volts = {self.full_volts}
full_ma = {{ red = {self.full_ma}, green = {self.full_ma}, blue = {self.full_ma} }}
idle_ma = 2
[panel.p]
pixel = "d"
pixels_mm = [{at}]
segments = {self.segments}
strip = {{ ohm_per_m = {self.piece_ohm * 5}, pitch_mm = 100, fed = "{self.fed}" }}
tail = {{ length_m = {self.tail_m}, mm2 = 1.5 }}
[[node]]
name = "n"
address = "10.9.1.1"
[[run]]
node = "n"
start = "0:0:1"
panels = ["{positions}"]
[[circuit]]
name = "c"
volts = 230
rated_a = 16
[[supply]]
name = "s"
circuit = "c"
volts = 12
rated_a = 60
efficiency = 0.88
power_factor = 0.95
[[feed]]
name = "f"
supply = "s"
fuse_a = 50
positions = ["{positions}"]
cable = {{ length_m = {self.cable_m}, mm2 = 2.5 }}
{link}"""

    def asked(self):
        slots = [level for panel in self.levels for pixel in panel for level in pixel]
        return {"floor": self.toml(), "slots": slots + [0] * (512 - len(slots)), "faults": self.faults}

    def netlist(self):
        begins = [sum(self.segments[:at]) for at in range(len(self.segments))]
        panels = []
        for number, levels in enumerate(self.levels):
            sections = [self.piece_ohm] * (self.pixels + 1)
            for fault in self.faults:
                if fault["panel"] == number and fault["kind"] != "link":
                    more = OPEN_OHM if fault["kind"] == "open" else fault["ohm"]
                    sections[begins[fault["segment"]]] += more
            panels.append({
                "tail_ohm": cable_ohm(self.tail_m, 1.5), "section_ohm": sections, "fed": self.fed,
                "kind": "constant-current", "dark_volts": self.dark, "full_volts": self.full_volts,
                "nominal_volts": 12.0, "idle_a": 0.002, "unused_pixels": 0,
                "pixel_a": [sum(pixel) / 255 * self.full_ma / 1e3 for pixel in levels],
            })
        cut = [fault["panel"] for fault in self.faults if fault["kind"] == "link"]
        # Behind an open link there is no feed any more.
        panels = panels[: min(cut, default=self.panels)]
        link = cable_ohm(self.link_m, 1.5) if self.linked else None
        return Netlist({"volts": 12.0, "cable_ohm": cable_ohm(self.cable_m, 2.5), "link_ohm": link, "far_ohm": None, "panels": panels})


class Joints(unittest.TestCase):
    def test_ngspice_finds_the_same_currents_behind_broken_joints(self):
        chance = random.Random(1_907)
        cases = [Case(chance, at) for at in range(CASES)]
        asked = json.dumps([case.asked() for case in cases])
        done = subprocess.run([SOLVER], input=asked, capture_output=True, text=True, check=True)
        worst, dim, dark = 0.0, 0, 0
        for number, (case, ours) in enumerate(zip(cases, json.loads(done.stdout))):
            _, amps = case.netlist().solve()
            off = abs(ours["feeds_a"][0] - amps)
            worst = max(worst, off)
            self.assertLess(off, NEAR_A, f"case {number}: {ours['feeds_a'][0]} A, ngspice {amps} A, {case.faults}")
            whole = 12.0 / 12 * 0.002 * case.pixels * case.panels + sum(
                level for panel in case.levels for pixel in panel for level in pixel) / 255 * case.full_ma / 1e3
            dim += 0.02 * whole < whole - amps
            dark += any(fault["kind"] != "resistive" for fault in case.faults)
        print(f"{CASES} feeds, {dim} clearly dimmer than whole, {dark} with something open: at most {worst * 1e3:.2g} mA apart")
        # Whole floors alone would show nothing.
        self.assertGreater(dim, CASES // 3)
        self.assertGreater(dark, CASES // 3)


if __name__ == "__main__":
    unittest.main()
