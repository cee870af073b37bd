"""An independent sender, the library stupidArtnet 1.6.0, drives a running `litfloor run`."""

import unittest

from bench import Bench
from daemon import SLOTS, UNIVERSES, picture


def written(port_address):
    return f"{port_address >> 8}:{port_address >> 4 & 15}:{port_address & 15}"


class Sender(unittest.TestCase):
    def test_what_is_sent_is_what_the_api_tells_and_what_the_nodes_hold(self):
        with Bench() as bench:
            bench.show()
            for _ in range(10):
                bench.send()
            # Loopback loses nothing, and nobody else sends: every frame is taken once.
            state = bench.daemon.until(
                lambda state: state if state["frames_in"] >= bench.sent else None
            )
            self.assertEqual(state["frames_in"], bench.sent)
            self.assertEqual(state["frames_refused"], {key: 0 for key in state["frames_refused"]})
            told = {universe["port_address"]: universe for universe in state["universes"]}
            self.assertEqual(set(told), {written(universe) for universe in UNIVERSES})
            for universe in told.values():
                self.assertTrue(universe["mapped"])
                self.assertEqual(universe["slots"], SLOTS)
                self.assertEqual(
                    [(source["address"], source["physical"]) for source in universe["sources"]],
                    [("127.0.0.1", 0)],
                )
            self.assertEqual(state["signal"], "live")
            for panel in state["panels"]:
                self.assertEqual(panel["scale"], 1, panel)
            # The linear rule, by hand: 1 mA idle and 20 mA at 255 for each of 20 pixels.
            draws = [0.02 + 0.02 * sum(picture(universe)) / 255 for universe in UNIVERSES]
            told_a = {panel["position"]: panel["draw_a"] for panel in state["panels"]}
            for position, draw_a in zip(["A1", "B1", "C1", "A2", "B2", "C2"], draws):
                self.assertAlmostEqual(told_a[position], draw_a, places=4)
            self.assertAlmostEqual(state["supplies"][0]["draw_a"], sum(draws), places=3)
            print(f"{state['frames_in']} frames in, {state['frames_out']} out, {sum(draws):.3f} A")

    def test_white_from_it_comes_out_under_the_limit(self):
        with Bench() as bench:
            white = bytes([255]) * SLOTS

            def capped(_arrived):
                held = [node.newest(u) for node in bench.nodes for u in bench.own(node)]
                levels = {level for data in held if data for level in data[18:]}
                # (4 − 0.12) / 7.2 of 255 is 137.4, rounded down.
                return levels == {137}

            bench.nodes[0].until(capped, again=lambda: bench.send(lambda _universe: white))
            supply = bench.daemon.until(
                lambda state: state["supplies"][0] if state["supplies"][0]["draw_a"] > 3.9 else None
            )
            self.assertAlmostEqual(supply["asked_a"], 7.32, places=3)
            # As sent, by hand: 6 · (0.02 + 1.2 · 137 / 255).
            self.assertAlmostEqual(supply["draw_a"], 3.98824, places=3)
            self.assertLessEqual(supply["draw_a"], supply["limit_a"])
            print(f"asked {supply['asked_a']:.2f} A, sent {supply['draw_a']:.3f} A of {supply['limit_a']} A")


if __name__ == "__main__":
    unittest.main()
