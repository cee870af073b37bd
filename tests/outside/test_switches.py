"""scipy's distributions give the chances of tests/vectors/chances.json.

Unit tests under `src/health/` hold litfloor against the same file. Write it anew with
`python test_switches.py write`.
"""

import json
import random
import sys
import unittest

from scipy import stats

from daemon import ROOT

PATH = ROOT / "tests/vectors/chances.json"


def rows():
    """Upper tails of the binomial, chances of none, and tails of the F distribution."""
    chance = random.Random(5)
    binomial = []
    for _ in range(80):
        n = chance.choice([1, 2, 5, 15, 16, 17, 40, 300, 5_000])
        k = chance.randint(1, n)
        p = chance.choice([0.001, 0.01, 0.0385, 0.2, 0.5, 0.9])
        tail = float(stats.binom.sf(k - 1, n, p))
        # What lies below this no verdict asks for.
        if tail > 1e-250:
            binomial.append([k, n, p, tail])
    nothing = [
        [n, p, float(stats.binom.pmf(0, n, p))] for n in (1, 30, 203, 1_000) for p in (1 / 16, 1 / 8)
    ]
    # Seconds, presses that ended, how long those lasted together, the chance.
    longer = [
        [t, n, total, float(stats.f.sf(t / (total / n), 2, 2 * n))]
        for t, n, total in ((150, 20, 30), (150, 200, 900), (900, 3, 10), (1, 1, 1))
    ]
    return {"binomial": binomial, "nothing": nothing, "longer": longer}


class Chances(unittest.TestCase):
    def test_scipy_finds_what_is_written(self):
        written = json.loads(PATH.read_text())
        for name, found in rows().items():
            self.assertEqual(len(written[name]), len(found))
            for was, now in zip(written[name], found):
                self.assertEqual(was[:-1], now[:-1])
                self.assertAlmostEqual(was[-1] / now[-1], 1, delta=1e-9)


if __name__ == "__main__":
    if sys.argv[1:] == ["write"]:
        PATH.write_text(json.dumps(rows(), indent=1) + "\n")
    else:
        unittest.main()
