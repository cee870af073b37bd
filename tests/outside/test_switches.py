"""Switches: a sender, a decoder and distributions that we did not write.

stupidArtnet 1.6.0 sends switches to a running `litfloor run`, aioartnet 0.2.1 reads in its poll
replies that it listens to them, and scipy gives the chances of tests/vectors/chances.json, which unit
tests under `src/health/` hold litfloor against. Write that file anew with
`python test_switches.py write`.
"""

import json
import pathlib
import random
import sys
import tempfile
import unittest

from aioartnet import ArtNetClient
from aioartnet.client import ArtNetClientProtocol
from scipy import stats
from stupidArtnet import StupidArtnet

from bench import Bench
from daemon import ROOT, UNIVERSES, Daemon, Node, floor

# 0:2:0
SWITCHES = 0x20

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


class WithSwitches(Bench):
    """The six panels with four switches each, which node n0 sends."""

    def __enter__(self):
        self.directory = tempfile.TemporaryDirectory()
        self.nodes = [Node("west"), Node("east")]
        text = floor(self.nodes).replace("columns = 5\n", "columns = 5\nswitches = 4\n")
        text += '[[input]]\nnode = "n0"\nstart = "0:2:0"\npositions = ["A1..C2"]\n'
        path = pathlib.Path(self.directory.name, "floor.toml")
        path.write_text(text)
        self.daemon = Daemon("run", str(path))
        host, port = self.daemon.artnet
        self.senders = {SWITCHES: StupidArtnet(host, SWITCHES, 24, port=port)}
        return self

    def press(self, *slots):
        """Sends all switches once, those at `slots` (from 0) pressed."""
        levels = bytearray(24)
        for slot in slots:
            levels[slot] = 255
        self.senders[SWITCHES].send(levels)


class Pressed(unittest.TestCase):
    def test_what_a_library_sends_is_pressed_in_the_state(self):
        with WithSwitches() as bench:
            bench.press()
            bench.daemon.until(lambda s: all(panel["switches_known"] for panel in s["panels"]))
            # A2 is the fourth panel: its second switch is the fourteenth slot.
            bench.press(13)
            state = bench.daemon.until(lambda s: s if s["presses"] else None)
            pressed = {panel["position"]: panel["pressed"] for panel in state["panels"]}
            self.assertEqual(pressed, {"A1": [], "B1": [], "C1": [], "A2": [2], "B2": [], "C2": []})
            (press,) = state["presses"]
            self.assertEqual((press["position"], press["switch"], press["down"]), ("A2", 2, True))
            self.assertEqual(state["datagrams"]["switches"], 2)

    def test_aioartnet_reads_that_we_listen_to_switches(self):
        with WithSwitches() as bench:
            client = ArtNetClient(passive=True)
            protocol = ArtNetClientProtocol(client)
            # 0:0:1 to 0:0:5, 0:2:0, 1:2:3: four replies.
            for data in bench.poll(replies=4):
                protocol.datagram_received(data, bench.daemon.artnet)
            (node,) = client.nodes.values()
            ports = {(port.is_input, port.portaddr) for port in node.ports}
            self.assertEqual(ports, {(False, universe) for universe in [*UNIVERSES, SWITCHES]})


if __name__ == "__main__":
    if sys.argv[1:] == ["write"]:
        PATH.write_text(json.dumps(rows(), indent=1) + "\n")
    else:
        unittest.main()
