"""`/metrics` as the parser of the Python client reads it, strictly, beside the state of the same daemon.

The parser refuses what OpenMetrics forbids: a counter without _total, a unit that is not in the name, rows
that are told twice, a missing end.
"""

import time
import unittest
import unittest.mock
import urllib.request

from prometheus_client.openmetrics import parser

import daemon
from bench import Bench
from daemon import LOOK_EVERY_S, PATIENCE_S

# What a label must be escaped for: a quote and a backslash.
FEED = 'left "A" \\ 2'


def awkward(nodes):
    return daemon.floor(nodes).replace('name = "f"', f"name = '{FEED}'")


class Metrics:
    """One answer, as the parser reads it."""

    def __init__(self, url):
        with urllib.request.urlopen(url + "/metrics", timeout=PATIENCE_S) as answer:
            self.kind = answer.headers["Content-Type"]
            self.text = answer.read().decode()
        self.families = {family.name: family for family in parser.text_string_to_metric_families(self.text)}
        self.values = {
            (sample.name, frozenset(sample.labels.items())): sample.value
            for family in self.families.values()
            for sample in family.samples
        }

    def of(self, sample, **labels):
        return self.values[f"litfloor_{sample}", frozenset(labels.items())]


class Exposition(unittest.TestCase):
    def test_the_figures_are_those_of_the_state(self):
        with unittest.mock.patch("bench.floor", awkward), Bench() as bench:
            bench.show()
            # Something refused as well.
            bench.nodes[0].socket.sendto(b"no Art-Net", bench.daemon.artnet)
            bench.daemon.until(lambda state: state["datagrams"]["not_artnet"])
            bench.daemon.until(lambda state: all(node["online"] for node in state["nodes"]))
            state, metrics = self.at_rest(bench.daemon)
            self.compare(state, metrics)

    def at_rest(self, running):
        """A state and metrics between which nothing was counted."""
        deadline = time.monotonic() + PATIENCE_S
        while True:
            before, metrics, after = running.get("/api/v1/state"), Metrics(running.url), running.get("/api/v1/state")
            if before["uptime_s"] == metrics.of("uptime_seconds") == after["uptime_s"]:
                return before, metrics
            self.assertLess(time.monotonic(), deadline, "never the same state")
            time.sleep(LOOK_EVERY_S)

    def compare(self, state, metrics):
        self.assertEqual(metrics.kind, "application/openmetrics-text; version=1.0.0; charset=utf-8")
        self.assertTrue(metrics.text.endswith("# EOF\n"))
        of = metrics.of
        self.assertEqual(of("floor_revision"), state["revision"])
        self.assertEqual(of("data_plane_alive"), 1)
        # Nobody looks on here, by neither door.
        self.assertEqual((of("browsers", door="all"), of("browsers", door="guests")), (0, 0))
        for outcome, count in state["datagrams"].items():
            self.assertEqual(of("datagrams_total", outcome=outcome), count, outcome)
        self.assertGreater(of("datagrams_total", outcome="taken"), 0)
        self.assertEqual(of("datagrams_total", outcome="not_artnet"), 1)
        self.assertEqual(of("frames_in_total"), state["frames_in"])
        self.assertEqual(of("frames_out_total"), state["frames_out"])
        self.assertEqual(of("signal", state=state["signal"]), 1)
        self.assertEqual(sum(family.value for family in metrics.families["litfloor_signal"].samples), 1)
        # Linux tells, and nobody flooded the port.
        self.assertEqual(of("kernel_dropped_datagrams_total"), 0)
        for node in state["nodes"]:
            self.assertEqual(of("node_online", node=node["name"]), 1)
            self.assertEqual(of("node_frames_total", node=node["name"]), node["frames_out"])
            self.assertEqual(of("node_refused_frames_total", node=node["name"]), node["send_errors"])
        self.assertEqual((of("nodes", state="online"), of("nodes", state="offline")), (2, 0))
        rows = 0
        for kind, loads in [("circuit", "circuits"), ("supply", "supplies"), ("feed", "feeds")]:
            for load in state[loads]:
                labels = {"kind": kind, "name": load["name"]}
                for what in ["asked", "draw", "reserved", "limit"]:
                    self.assertEqual(of(f"load_{what}_amperes", **labels), load[f"{what}_a"], labels)
                self.assertEqual(of("load_scale_ratio", **labels), load["scale"], labels)
                rows += 1
        self.assertEqual(len(metrics.families["litfloor_load_draw_amperes"].samples), rows)
        self.assertGreater(of("load_draw_amperes", kind="feed", name=FEED), 0)
        self.assertEqual(of("floor_draw_volt_amperes"), state["floor"]["draw_va"])
        self.assertEqual(metrics.families["litfloor_load_draw_amperes"].unit, "amperes")
        self.assertEqual(metrics.families["litfloor_datagrams"].type, "counter")
        for severity in ["danger", "warning", "info"]:
            count = sum(notice["severity"] == severity for notice in state["notices"])
            self.assertEqual(of("notices", severity=severity), count)
        panels = metrics.families["litfloor_panels"].samples
        self.assertEqual(sum(sample.value for sample in panels), len(state["panels"]))
        for family in metrics.families.values():
            self.assertTrue(family.documentation.endswith("."), family.name)
        print(f"{len(metrics.families)} families, {len(metrics.values)} rows")

    def test_the_parser_is_strict(self):
        for wrong in [
            "# TYPE a counter\na 1\n# EOF\n",
            "# TYPE a gauge\n# UNIT a volts\na 1\n# EOF\n",
            "# TYPE a gauge\na 1\n",
            '# TYPE a gauge\na{b="x"y"} 1\n# EOF\n',
        ]:
            with self.assertRaises(ValueError, msg=wrong):
                list(parser.text_string_to_metric_families(wrong))


if __name__ == "__main__":
    unittest.main()
