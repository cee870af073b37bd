"""What simulated sensors say, looked at with numpy and scipy: noise, gain, offset, rounding and drift.

examples/ask_sensor.rs gives the readings. Seeds are fixed, so each test says the same in every run; a
p-value is asked to be above 0.001, and that the test could fail is shown beside it.
"""

import json
import pathlib
import subprocess
import unittest

import numpy
import scipy.stats

from daemon import LITFLOOR

ANSWERS = pathlib.Path(LITFLOOR).parent / "examples" / "ask_sensor"
COUNT = 20_000
UNLIKELY = 1e-3


def ask(questions):
    done = subprocess.run([ANSWERS], input=json.dumps(questions), capture_output=True, text=True, check=True)
    return [numpy.array(answer) for answer in json.loads(done.stdout)]


def still(true_a, count=COUNT, **errors):
    """Readings ten times a second of a current that does not change."""
    return {"seed": 11, "every_ms": 100, "true_a": [true_a] * count, **errors}


class Noise(unittest.TestCase):
    def test_its_shape_is_that_of_gauss(self):
        for seed, noise_a in [(11, 0.125), (12, 1.0), (13, 0.02)]:
            [said] = ask([still(20.0, noise_a=noise_a, seed=seed)])
            expected = scipy.stats.norm(20.0, noise_a)
            self.assertGreater(scipy.stats.kstest(said, expected.cdf).pvalue, UNLIKELY)
            # Anderson and Darling look at the tails, with the mean and deviation that were found.
            # Of their p-value scipy's table ends at 0.01.
            found = scipy.stats.anderson(said, "norm", method="interpolate")
            self.assertGreater(found.pvalue, 0.01)

    def test_another_shape_or_scale_would_be_seen(self):
        [said] = ask([still(20.0, noise_a=0.125)])
        even = numpy.random.default_rng(3).uniform(-1, 1, COUNT) * 0.125 * 3**0.5 + 20
        for wrong, expected in [
            (even, scipy.stats.norm(20.0, 0.125)),
            (said, scipy.stats.norm(20.0, 0.125 * 1.05)),
            (said, scipy.stats.norm(20.005, 0.125)),
        ]:
            self.assertLess(scipy.stats.kstest(wrong, expected.cdf).pvalue, UNLIKELY)

    def test_mean_and_deviation_lie_where_samples_of_that_size_do(self):
        """Student's t and χ² say where: 99.9 % of samples."""
        [said] = ask([still(20.0, noise_a=0.125, gain=0.01, offset_a=-0.3)])
        mean = 20.0 * 1.01 - 0.3
        low, high = scipy.stats.t.interval(0.999, COUNT - 1, loc=said.mean(), scale=scipy.stats.sem(said))
        self.assertTrue(low < mean < high, (low, mean, high))
        squares = (COUNT - 1) * said.var(ddof=1) / 0.125**2
        low, high = scipy.stats.chi2.interval(0.999, COUNT - 1)
        self.assertTrue(low < squares < high, (low, squares, high))

    def test_one_reading_tells_nothing_of_the_next(self):
        [said] = ask([still(20.0, noise_a=0.125)])
        for lag in [1, 2, 7]:
            self.assertGreater(scipy.stats.pearsonr(said[:-lag], said[lag:]).pvalue, UNLIKELY)


class Rounding(unittest.TestCase):
    def test_readings_are_whole_steps_and_err_evenly(self):
        step_a = 0.05
        true_a = numpy.random.default_rng(5).uniform(0, 10, COUNT)
        [said] = ask([{"seed": 1, "every_ms": 100, "true_a": true_a.tolist(), "step_a": step_a}])
        numpy.testing.assert_allclose(said / step_a, numpy.round(said / step_a), atol=1e-9)
        numpy.testing.assert_allclose(said, numpy.round(true_a / step_a) * step_a, atol=1e-9)
        even = scipy.stats.uniform(-step_a / 2, step_a)
        self.assertGreater(scipy.stats.kstest(said - true_a, even.cdf).pvalue, UNLIKELY)

    def test_noise_is_rounded_after_it_was_added(self):
        """Each step gets what the Gaussian says of its width: χ² over the steps that are seen often."""
        step_a, noise_a = 0.1, 0.125
        [said] = ask([still(5.0, noise_a=noise_a, step_a=step_a)])
        steps, seen = numpy.unique(numpy.round(said / step_a).astype(int), return_counts=True)
        gauss = scipy.stats.norm(5.0, noise_a)
        expected = COUNT * (gauss.cdf((steps + 0.5) * step_a) - gauss.cdf((steps - 0.5) * step_a))
        often = expected >= 5
        seen, expected = seen[often], expected[often]
        found = scipy.stats.chisquare(seen, expected * seen.sum() / expected.sum())
        self.assertGreater(found.pvalue, UNLIKELY)
        self.assertGreaterEqual(len(seen), 7)


class Drift(unittest.TestCase):
    def test_the_offset_is_a_random_walk(self):
        """Steps of a tenth of a second are Gaussian with d·√0.1, and add up."""
        drift_a = 0.02
        [said] = ask([still(5.0, drift_a=drift_a, count=5_000)])
        steps = numpy.diff(said)
        expected = scipy.stats.norm(0, drift_a * 0.1**0.5)
        self.assertGreater(scipy.stats.kstest(steps, expected.cdf).pvalue, UNLIKELY)
        self.assertGreater(scipy.stats.pearsonr(steps[:-1], steps[1:]).pvalue, UNLIKELY)


if __name__ == "__main__":
    unittest.main()
