"""The evidence of the running show in Gram form, against numpy on the readings themselves.

examples/ask_show.rs gives litfloor's answers to the same questions.
"""

import json
import pathlib
import subprocess
import unittest

import numpy

from daemon import LITFLOOR

ANSWERS = pathlib.Path(LITFLOOR).parent / "examples" / "ask_show"
ITEMS = 12


def ask(questions):
    done = subprocess.run([ANSWERS], input=json.dumps(questions), capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


def made_up(chance, parts):
    full = chance.uniform(0.5, 1.0, ITEMS)
    own = 1 + chance.normal(0, 0.03, ITEMS)
    task = {
        "full_a": full.tolist(), "tolerances": chance.uniform(0.005, 0.04, ITEMS).tolist(),
        "gain_sd": 0.01, "offset_sd_a": 0.3, "variance": 0.04, "parts": [],
    }
    for part in range(parts):
        count = int(chance.integers(20, 60))
        computed = full * chance.uniform(0, 1, (count, ITEMS))
        readings = 1.01 * computed @ own + chance.normal(0, 0.3) + chance.normal(0, 0.2, count)
        changed = [int(chance.integers(ITEMS))] if part == parts - 1 and parts > 2 else []
        task["parts"].append({
            "computed_a": computed.tolist(), "readings_a": readings.tolist(),
            "keep": float(chance.uniform(0.3, 1)), "changed": changed,
        })
    return task


def by_numpy(task):
    """Every reading as a weighted row, every prior as one more: ordinary least squares.

    The unknowns: what items lack, the gain, an offset for each part, and for an item that may have changed
    what it lacked before, of which nothing is known.
    """
    parts = task["parts"]
    changed = [item for part in parts for item in part["changed"]]
    unknowns = ITEMS + 1 + len(parts) + len(changed)
    rows, right = [], []
    weight = 1.0
    weights = []
    for part in reversed(parts):
        weights.insert(0, weight)
        weight *= part["keep"]
    for number, part in enumerate(parts):
        computed = numpy.array(part["computed_a"])
        row = numpy.zeros((len(computed), unknowns))
        row[:, :ITEMS] = computed
        row[:, ITEMS] = computed.sum(axis=1)
        row[:, ITEMS + 1 + number] = 1
        if number < len(parts) - 1:
            for place, item in enumerate(changed):
                row[:, ITEMS + 1 + len(parts) + place] = row[:, item]
                row[:, item] = 0
        scale = (weights[number] / task["variance"]) ** 0.5
        rows.append(scale * row)
        right.append(scale * (computed.sum(axis=1) - numpy.array(part["readings_a"])))
    # An offset is as well known beforehand however much its part has faded: it fades with it.
    spread = [*task["tolerances"], task["gain_sd"]]
    priors = numpy.zeros((ITEMS + 1 + len(parts), unknowns))
    for at, deviation in enumerate(spread):
        priors[at, at] = 1 / deviation
    for number in range(len(parts)):
        at = ITEMS + 1 + number
        priors[at, at] = weights[number] ** 0.5 / task["offset_sd_a"]
    matrix = numpy.vstack([*rows, priors])
    values = numpy.concatenate([*right, numpy.zeros(len(priors))])
    found = numpy.linalg.lstsq(matrix, values)[0]
    deviations = numpy.sqrt(numpy.diag(numpy.linalg.inv(matrix.T @ matrix)))
    return found, deviations


class Evidence(unittest.TestCase):
    def test_what_is_left_is_that_of_least_squares(self):
        chance = numpy.random.default_rng(23)
        tasks = [made_up(chance, parts) for parts in [1, 2, 3, 5] for _ in range(10)]
        worst = 0.0
        for task, told in zip(tasks, ask(tasks)):
            found, deviations = by_numpy(task)
            mine = numpy.array([*told["lacks"], told["gain"]])
            numpy.testing.assert_allclose(mine[:, 0], found[: ITEMS + 1], atol=1e-9)
            numpy.testing.assert_allclose(mine[:, 1], deviations[: ITEMS + 1], rtol=1e-7)
            last = ITEMS + len(task["parts"])
            numpy.testing.assert_allclose(told["offset"], [found[last], deviations[last]], rtol=1e-7, atol=1e-9)
            worst = max(worst, abs(mine[:, 0] - found[: ITEMS + 1]).max())
        print(f"lacks are {worst:.2g} apart at most")


if __name__ == "__main__":
    unittest.main()
