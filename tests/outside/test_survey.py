"""Designs, solvers and inference of the coded survey, against numpy and scipy.

examples/ask_survey.rs gives litfloor's answers to the same questions.
"""

import itertools
import json
import pathlib
import subprocess
import unittest

import numpy
import scipy.linalg
import scipy.optimize
import scipy.stats

from daemon import LITFLOOR

ANSWERS = pathlib.Path(LITFLOOR).parent / "examples" / "ask_survey"


def ask(questions):
    done = subprocess.run([ANSWERS], input=json.dumps(questions), capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


class Designs(unittest.TestCase):
    def test_powers_of_two_are_those_of_scipy(self):
        orders = [1, 2, 4, 8, 64, 256]
        for order, rows in zip(orders, ask([{"hadamard": order} for order in orders])):
            numpy.testing.assert_array_equal(rows, scipy.linalg.hadamard(order))

    def test_rows_are_at_right_angles(self):
        orders = range(1, 121)
        found = 0
        for order, rows in zip(orders, ask([{"hadamard": order} for order in orders])):
            if rows is not None:
                matrix = numpy.array(rows)
                self.assertTrue((abs(matrix) == 1).all())
                numpy.testing.assert_array_equal(matrix @ matrix.T, order * numpy.eye(order))
                found += 1
        # 1, 2 and the multiples of 4, without 52, 92, 100 and 116.
        self.assertEqual(found, 2 + 30 - 4)

    def test_variance_falls_as_hotelling_says(self):
        """(n+1)²/(4n): H. Hotelling, Some improvements in weighing, 1944."""
        for size, gain in [(7, 2.286), (43, 11.256), (263, 66.251)]:
            self.assertAlmostEqual((size + 1) ** 2 / (4 * size), gain, places=3)
            for rows in ask([{"items": size}, {"cyclic": size}]):
                matrix = numpy.array(rows, dtype=float)
                self.assertEqual(matrix.shape, (size, size))
                variances = numpy.diag(numpy.linalg.inv(matrix.T @ matrix))
                numpy.testing.assert_allclose(1 / variances, gain, atol=5e-4)

    def test_the_cyclic_design_of_three(self):
        self.assertEqual(ask([{"cyclic": 3}]), [[[1, 1, 0], [0, 1, 1], [1, 0, 1]]])


class Solvers(unittest.TestCase):
    def matrices(self):
        chance = numpy.random.default_rng(31)
        [design] = ask([{"items": 31}])
        yield numpy.array(design, dtype=float), chance.normal(4, 1, 31)
        for rows, columns in [(5, 5), (40, 12), (90, 60)]:
            matrix = chance.normal(size=(rows, columns))
            yield matrix, matrix @ chance.uniform(-1, 2, columns) + chance.normal(size=rows)

    def test_least_squares(self):
        for matrix, right in self.matrices():
            [found] = ask([{"fit": {"matrix": matrix.tolist(), "right": right.tolist(), "bounded": None}}])
            theirs = numpy.linalg.lstsq(matrix, right)[0]
            numpy.testing.assert_allclose(found, theirs, atol=1e-6)

    def test_bounded_least_squares(self):
        touched = 0
        for matrix, right in self.matrices():
            fit = {"matrix": matrix.tolist(), "right": right.tolist()}
            open_end, closed = ask([{"fit": fit | {"bounded": "none"}}, {"fit": fit | {"bounded": 1.0}}])
            theirs, off = scipy.optimize.nnls(matrix, right)
            numpy.testing.assert_allclose(open_end["x"], theirs, atol=1e-6)
            self.assertAlmostEqual(open_end["off"], off, places=8)
            between = scipy.optimize.lsq_linear(matrix, right, (0, 1), method="bvls", tol=1e-14)
            numpy.testing.assert_allclose(closed["x"], between.x, atol=1e-6)
            touched += (theirs == 0).sum() + (between.x > 1 - 1e-9).sum()
        # Or the bounds were not looked at.
        self.assertGreater(touched, 20)


class Inference(unittest.TestCase):
    """Every combination of good and dead, each with the density that scipy gives its readings."""

    ITEMS = 8

    def brute(self, task):
        computed = numpy.array(task["computed_a"])
        readings = numpy.array(task["readings_a"])
        total = computed.sum(axis=1)
        spread = (
            task["variance"] * numpy.eye(len(readings))
            + task["tolerance"] ** 2 * computed @ computed.T
            + task["gain_sd"] ** 2 * numpy.outer(total, total)
            + task["offset_sd_a"] ** 2
        )
        states = numpy.array(list(itertools.product([0, 1], repeat=self.ITEMS)))
        off = readings - (1 - states) @ computed.T
        logs = scipy.stats.multivariate_normal.logpdf(off, cov=spread)
        dead = states.sum(axis=1)
        logs += dead * numpy.log(task["dead"]) + (self.ITEMS - dead) * numpy.log(1 - task["dead"])
        weights = numpy.exp(logs - logs.max())
        return states.T @ (weights / weights.sum())

    def test_chances_are_those_of_all_combinations(self):
        chance = numpy.random.default_rng(5)
        tasks = []
        for trial in range(60):
            full = chance.uniform(0.5, 1.0, self.ITEMS)
            pictures = int(chance.integers(3, 14))
            computed = full * chance.integers(0, 2, (pictures, self.ITEMS))
            dead = chance.random(self.ITEMS) < 0.2
            noise = chance.choice([0.05, 0.2, 0.4])
            true = computed @ ((1 + chance.normal(0, 0.03, self.ITEMS)) * ~dead)
            readings = 1.01 * true + 0.1 + chance.normal(0, noise, pictures)
            tasks.append({
                "full_a": full.tolist(), "tolerance": 0.03, "gain_sd": 0.02, "offset_sd_a": 0.3,
                # Weak ones are left out of both.
                "dead": 0.1, "weak": 1e-9, "variance": noise**2,
                "computed_a": computed.tolist(), "readings_a": readings.tolist(),
            })
        decided, worst, left_out = 0, 0.0, 0
        for task, both in zip(tasks, ask([{"decide": task} for task in tasks])):
            theirs = self.brute(task)
            # Where noise was greater than it nearly ever is, litfloor is more careful on purpose.
            if both[0]["misfit"] > 1 + 3 * (2 / len(task["readings_a"])) ** 0.5:
                left_out += 1
                continue
            for told in both:
                for item, chances in enumerate(told["chances"]):
                    if chances is None:
                        self.assertFalse(any(row[item] for row in task["computed_a"]))
                        continue
                    worst = max(worst, abs(chances[1] - theirs[item]))
                    decided += chances[1] > 0.99
        print(f"chances are {worst:.2g} apart at most, {decided} times dead for sure")
        self.assertLess(worst, 0.001)
        self.assertLess(left_out, 4)
        self.assertGreater(decided, 20)


if __name__ == "__main__":
    unittest.main()
