"""How well a step explains readings, against scipy's multivariate normal distribution.

examples/ask_steps.rs gives litfloor's answers to the same questions.
"""

import json
import pathlib
import subprocess
import unittest

import numpy
import scipy.stats

from daemon import LITFLOOR

ANSWERS = pathlib.Path(LITFLOOR).parent / "examples" / "ask_steps"


def ask(questions):
    done = subprocess.run([ANSWERS], input=json.dumps(questions), capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


class Steps(unittest.TestCase):
    def questions(self):
        """Readings of a few items with tolerance, gain and offset, in some of which items go out."""
        random = numpy.random.default_rng(20)
        for readings, items in [(5, 1), (40, 4), (120, 32)]:
            for out in [0, 1]:
                drawn = random.uniform(0, 0.78, (readings, items))
                takes = sorted(random.choice(items, max(1, items // 4), replace=False).tolist())
                above = drawn @ random.normal(0, 0.03, items) + drawn.sum(1) * random.normal(0, 0.01)
                above += random.normal(0, 0.125, readings) + random.normal(0, 0.1)
                above[readings // 2:] -= out * drawn[readings // 2:, takes].sum(1)
                yield {
                    "above_a": above.tolist(),
                    "drawn_a": drawn.tolist(),
                    "variance": 0.125**2,
                    "tolerance": 0.03,
                    "gain_sd": 0.01,
                    "offset_sd_a": 0.125,
                    "takes": takes,
                }

    def test_ratios_are_those_of_the_densities(self):
        questions = list(self.questions())
        for question, told in zip(questions, ask(questions)):
            drawn, above = numpy.array(question["drawn_a"]), numpy.array(question["above_a"])
            depends = numpy.column_stack([drawn, drawn.sum(1), numpy.ones(len(above))])
            spread = [question["tolerance"]] * drawn.shape[1] + [question["gain_sd"], question["offset_sd_a"]]
            covariance = depends @ numpy.diag(numpy.square(spread)) @ depends.T
            covariance += question["variance"] * numpy.eye(len(above))
            nothing = scipy.stats.multivariate_normal.logpdf(above, cov=covariance)
            out = -drawn[:, question["takes"]].sum(1)
            for begin, ratio in enumerate(told):
                mean = numpy.where(numpy.arange(len(above)) < begin, 0, out)
                expected = scipy.stats.multivariate_normal.logpdf(above, mean, covariance) - nothing
                self.assertAlmostEqual(ratio, expected, delta=1e-6 * max(1, abs(expected)))

    def test_the_best_moment_is_that_of_the_step(self):
        questions = list(self.questions())
        answers = ask(questions)
        # The longest, with items that go out half way.
        best = int(numpy.argmax(answers[-1]))
        self.assertLessEqual(abs(best - 60), 2)
        self.assertGreater(max(answers[-1]), 50)
        self.assertLess(max(answers[-2]), 5)


if __name__ == "__main__":
    unittest.main()
