"""The history of power, reckoned again with numpy and read back with Python's own SQLite."""

import csv
import io
import pathlib
import sqlite3
import struct
import tempfile
import unittest
import urllib.request

import numpy

from daemon import SLOTS, UNIVERSES, Daemon, Node, floor

# Of every element so much is looked at.
SECONDS = 12.0


def artdmx(port_address, slots):
    """An ArtDmx packet after the published layout, without a sequence."""
    head = struct.pack("<8sHH2BHH", b"Art-Net\0", 0x5000, 0x0E00, 0, 0, port_address, 0)
    return head[:-2] + struct.pack(">H", len(slots)) + slots


def readings(state):
    """Draw, asked and mains watts by element, as they stand in a state."""
    found = {"floor": numpy.zeros(3)}
    for kind in ("circuits", "supplies", "feeds"):
        for load in state[kind]:
            values = numpy.array([load["draw_a"], load["asked_a"], load["mains_w"]])
            found[f"{kind[:4]}:{load['name']}"] = values
            if kind == "circuits":
                found["floor"] += values
    return found


class History(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.node = Node("six")
        cls.directory = tempfile.TemporaryDirectory()
        cls.addClassCleanup(cls.directory.cleanup)
        cls.addClassCleanup(cls.node.close)
        path = pathlib.Path(cls.directory.name)
        (path / "floor.toml").write_text(floor([cls.node]))
        cls.states = {}
        cls.energies = {}
        with Daemon("run", str(path / "floor.toml"), "--state", str(path / "state")) as daemon:
            def enough(state):
                at = state["uptime_s"]
                cls.states[at] = state
                energy = daemon.get("/api/v1/energy")
                cls.energies[energy["until_s"]] = energy
                # Another brightness every second, at times more than the supply may give.
                level = int(at * 37) % 256
                for universe in UNIVERSES:
                    cls.node.socket.sendto(artdmx(universe, bytes([level]) * SLOTS), daemon.artnet)
                return at > SECONDS
            daemon.until(enough)
            cls.energy = daemon.get("/api/v1/energy")
            with urllib.request.urlopen(daemon.url + "/api/v1/history.csv?from=0") as answer:
                cls.head = answer.headers
                cls.table = answer.read()
        cls.file = path / "state" / "history.sqlite3"

    def totals(self, energy=None):
        names = {"floor": "floor", "circuit": "circ", "supply": "supp", "feed": "feed"}
        rows = (energy or self.energy)["elements"]
        return {names[row["kind"]] + (f":{row['name']}" if row["name"] else ""): row["total"] for row in rows}

    def test_totals_are_the_areas_under_what_was_told(self):
        # Totals are told with one of the states; of these moments both are known.
        told = sorted(at for at in self.energies if self.energies[at]["elements"])
        first, last = told[1], told[-1]
        self.assertGreater(last - first, SECONDS / 2)
        rounded = {round(at, 3): at for at in self.states}
        times = numpy.array([rounded[at] for at in sorted(rounded) if first <= at <= last])
        self.assertAlmostEqual(times[0], first, places=3)
        self.assertAlmostEqual(times[-1], last, places=3)
        # Five states a second are published; if one was missed here the areas differ a little.
        self.assertLess(numpy.diff(times).max(), 1.0)
        seen = [readings(self.states[at]) for at in times]
        before, after = self.totals(self.energies[first]), self.totals(self.energies[last])
        self.assertEqual(sorted(after), ["circ:c", "feed:f", "floor", "supp:s"])
        for key, total in after.items():
            draw, asked, watts = numpy.array([values[key] for values in seen]).T
            grown = {name: total[name] - before[key][name] for name in ("amp_hours", "kwh", "seconds")}
            self.assertAlmostEqual(grown["seconds"], last - first, delta=0.01, msg=key)
            # Both ends are rounded, to millionths.
            charge = numpy.trapezoid(draw, times) / 3600
            self.assertAlmostEqual(grown["amp_hours"], charge, delta=1.1e-6 + charge / 50, msg=key)
            energy = numpy.trapezoid(watts, times) / 3.6e6
            self.assertAlmostEqual(grown["kwh"], energy, delta=1.1e-6 + energy / 50, msg=key)
            self.assertGreaterEqual(total["peak_a"], draw.max() - 0.001, key)
            self.assertGreaterEqual(total["peak_asked_a"], asked.max() - 0.001, key)

    def test_mains_watts_are_those_of_the_supply(self):
        # 12 V and an efficiency of 0.9 stand in the floor file.
        for state in self.states.values():
            supply = state["supplies"][0]
            self.assertAlmostEqual(supply["mains_w"], supply["draw_a"] * 12 / 0.9, places=6)
            circuit = state["circuits"][0]
            # Apparent power times the power factor of its only supply.
            self.assertAlmostEqual(circuit["mains_w"], circuit["draw_a"] * 230 * 0.9, places=3)

    def test_the_file_holds_the_same(self):
        with sqlite3.connect(f"file:{self.file}?mode=ro", uri=True) as file:
            self.assertEqual(file.execute("PRAGMA integrity_check").fetchall(), [("ok",)])
            names = dict(file.execute("SELECT kind || ':' || name, id FROM series"))
            self.assertEqual(sorted(names), ["circuit:c", "feed:f", "floor:", "supply:s"])
            for table in ("seconds", "minutes"):
                rows = numpy.array(
                    file.execute(
                        f"SELECT at, covered_ms, draw_mean_ma, draw_min_ma, draw_max_ma, mains_mean_mw"
                        f" FROM {table} WHERE series = ?",
                        (names["supply:s"],),
                    ).fetchall(),
                    dtype=float,
                )
                at, covered, mean, least, most, milliwatts = rows.T
                total = self.totals()["supp:s"]
                # The daemon went on for a moment after its totals were asked for.
                self.assertGreaterEqual(covered.sum() / 1e3, total["seconds"] - 0.01)
                self.assertLess(covered.sum() / 1e3, total["seconds"] + 3)
                self.assertTrue((least <= mean).all() and (mean <= most).all())
                charge = (mean * covered).sum() / 3.6e9
                self.assertAlmostEqual(charge / total["amp_hours"], 1, delta=0.3)
                energy = (milliwatts * covered).sum() / 3.6e12
                self.assertAlmostEqual(energy / (charge * 12 / 0.9 / 1000), 1, delta=0.001)
                self.assertTrue((numpy.diff(at) > 0).all())
                self.assertTrue((at % (60 if table == "minutes" else 1) == 0).all())

    def test_the_table_is_read_by_an_independent_reader(self):
        self.assertTrue(self.head["content-type"].startswith("text/csv"))
        self.assertIn(b"\r\n", self.table)
        rows = list(csv.DictReader(io.StringIO(self.table.decode(), newline="")))
        self.assertEqual({row["kind"] for row in rows}, {"floor", "circuit", "supply", "feed"})
        for row in rows:
            self.assertRegex(row["time"], r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$")
            self.assertLessEqual(float(row["draw_mean_a"]), float(row["draw_max_a"]) + 0.001)


if __name__ == "__main__":
    unittest.main()
