"""numpy's cross-correlation finds the same shift as litfloor, in universes of a running daemon."""

import pathlib
import random
import socket
import struct
import tempfile
import unittest

import numpy

from daemon import Daemon, floor

# The first slot of every run, counted from 1, and the slots of its panel.
START = 50
WIDE = 60

# How far each panel's picture is shifted, in slots; some are not.
SHIFTS = [0, 1, -1, 7, -33, 40]
UNIVERSES = [0x0001, 0x0002, 0x0003, 0x0004, 0x0005, 0x0123]


def name(universe):
    return f"{universe >> 8}:{universe >> 4 & 15}:{universe & 15}"


def watched():
    """The usual floor of six panels without nodes, each from slot 50."""
    runs = [
        f'[[run]]\nstart = "{name(universe)}"\nslot = {START}\npanels = ["{panel}"]\n'
        for panel, universe in zip(["A1", "B1", "C1", "A2", "B2", "C2"], UNIVERSES)
    ]
    return floor([Nobody]).partition("[[node]]")[0] + "".join(runs)


class Nobody:
    """A node that is cut out again."""

    address = ("127.0.0.1", 6454)


def sent(shift, chance):
    """512 slots: any levels above 0 where the shifted panel would be."""
    slots = bytearray(512)
    for slot in range(START - 1 + shift, START - 1 + shift + WIDE):
        slots[slot] = chance.randrange(1, 256)
    return bytes(slots)


def lag(slots):
    """The shift at which the lit slots correlate best with the mapped ones."""
    lit = (numpy.frombuffer(slots, dtype=numpy.uint8) > 0).astype(int)
    mapped = numpy.zeros(512, dtype=int)
    mapped[START - 1 : START - 1 + WIDE] = 1
    return int(numpy.correlate(lit, mapped, "full").argmax()) - 511


class Offset(unittest.TestCase):
    def test_numpy_finds_the_same_shift(self):
        chance = random.Random(3)
        frames = {universe: sent(by, chance) for universe, by in zip(UNIVERSES, SHIFTS)}
        self.assertEqual([lag(slots) for slots in frames.values()], SHIFTS)
        with tempfile.TemporaryDirectory() as directory:
            path = pathlib.Path(directory, "floor.toml")
            path.write_text(watched())
            with Daemon("run", str(path)) as daemon:
                console = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)

                def found(state):
                    for universe, slots in frames.items():
                        head = struct.pack("<8sHHBBHH", b"Art-Net\0", 0x5000, 0x0E00, 0, 0, universe, 0x0002)
                        console.sendto(head + slots, daemon.artnet)
                    told = {one["port_address"]: one["arrival"]["offset_slots"] for one in state["universes"]}
                    wanted = {name(universe): lag(slots) or None for universe, slots in frames.items()}
                    return told == wanted

                daemon.until(found)
                notices = daemon.get("/api/v1/state")["notices"]
                told = [notice["text"] for notice in notices if notice["code"] == "universe_offset"]
                self.assertEqual(len(told), 1)
                self.assertIn("0:0:5 33 slots earlier", told[0])
                console.close()
        print(f"{len(frames)} shifts as numpy finds them")


if __name__ == "__main__":
    unittest.main()
