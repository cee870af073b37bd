"""numpy's least squares finds the idle current and the gains of tests/vectors/calibration.json.

`tests/calibration.rs` has litfloor learn from the same runs. Write them anew with
`python test_calibration.py write`.
"""

import json
import random
import sys
import unittest

import numpy

from daemon import ROOT

PATH = ROOT / "tests/vectors/calibration.json"

# Full current of red, green, blue and white of a place that has them, in amperes.
PLACES = [
    [3.0, 2.0, 2.5, 0.0],
    [12.0, 11.0, 12.5, 0.0],
    [1.5, 1.5, 1.5, 2.5],
    [0.0, 0.0, 0.0, 6.0],
]
STEPS = [(0, [0, 0, 0, 0])] + [
    (level, colours)
    for colours in ([1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [1, 1, 1, 0], [0, 0, 0, 1])
    for level in (128 / 255, 1)
]


def run(full, chance):
    """A run on a place with made-up gains, noise and a bend: copper takes some of the brightest."""
    idle = 0.1 + 0.3 * chance.random()
    gains = [0.9 + 0.25 * chance.random() for _ in full]
    rows = []
    for level, colours in STEPS:
        lit = [on * level * amperes for on, amperes in zip(colours, full)]
        measured = idle + sum(gain * amperes for gain, amperes in zip(gains, lit))
        measured = measured * (1 - 0.001 * measured) + 0.004 * (chance.random() - 0.5)
        rows.append([*(round(amperes, 6) for amperes in lit), round(measured, 6)])
    return rows


def fit(rows):
    """Idle and gains, and the farthest that a step lies from them and above them."""
    table = numpy.array(rows)
    present = [at for at in range(4) if table[:, at].max() > 0]
    columns = numpy.column_stack([numpy.ones(len(rows)), *(table[:, at] for at in present)])
    found, *_ = numpy.linalg.lstsq(columns, table[:, 4], rcond=None)
    beside = table[:, 4] - columns @ found
    gains = [None] * 4
    for at, gain in zip(present, found[1:]):
        gains[at] = float(gain)
    return {
        "idle_a": float(found[0]),
        "gains": gains,
        "residual_a": float(abs(beside).max()),
        "above_a": float(beside.max()),
    }


def write():
    chance = random.Random(4)
    runs = [run(full, chance) for full in PLACES for _ in range(3)]
    rows = [{"rows": rows, **fit(rows)} for rows in runs]
    text = ",\n".join(" " + json.dumps(row) for row in rows)
    PATH.write_text(f"[\n{text}\n]\n")


class Calibration(unittest.TestCase):
    def test_the_figures_are_those_of_numpy(self):
        runs = json.loads(PATH.read_text())
        self.assertEqual(len(runs), 12)
        for row in runs:
            again = fit(row["rows"])
            for key in ("idle_a", "residual_a", "above_a"):
                self.assertAlmostEqual(again[key], row[key], places=9)
            for gain, written in zip(again["gains"], row["gains"], strict=True):
                if written is None:
                    self.assertIsNone(gain)
                else:
                    self.assertAlmostEqual(gain, written, places=9)


if __name__ == "__main__":
    write() if sys.argv[1:] == ["write"] else unittest.main()
