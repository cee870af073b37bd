"""numpy's cross-correlation finds the same shift as litfloor, in universes of a running daemon."""

import base64
import json
import os
import pathlib
import random
import socket
import struct
import tempfile
import unittest

import numpy

from daemon import PATIENCE_S, Daemon, floor

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


# A row of panels in one universe, and its reference: the first pixel of each.
PANELS = 10
PER_PANEL = 48
ROW_START = 10
FIRST_PIXELS = [ROW_START - 1 + slot + PER_PANEL * panel for panel in range(PANELS) for slot in range(3)]

# What a console sends of it: shifted, with slots that stay dark or are lit too, and the verdict's
# name that a person would give. Twenty panels late nothing of it is left.
REFERENCES = [
    (0, [], [], "right"),
    (PER_PANEL, [], [], "shifted"),
    (-PER_PANEL, [], [], "unclear"),
    (7 * PER_PANEL, [], [], "unclear"),
    (-5, [], [], "shifted"),
    (31, [], [], "shifted"),
    (0, FIRST_PIXELS[:1], [], "unclear"),
    (0, FIRST_PIXELS[6:9], [], "unclear"),
    (0, [], [500, 501], "right"),
    (0, [], [489, 490, 491], "unclear"),
    (20 * PER_PANEL, [], [], "dark"),
]
WORDS = {1: "dark", 2: "right", 3: "shifted", 4: "unclear"}


def row():
    """The usual floor without nodes, with its panels in a row instead."""
    text = floor([Nobody]).partition("[[node]]")[0]
    for usual, instead in [
        ("columns = 3, rows = 2", f"columns = {PANELS}, rows = 1"),
        ("columns = 5\nrows = 4", "columns = 4\nrows = 4"),
        ("A1..C2", "A1..J1"),
    ]:
        assert usual in text
        text = text.replace(usual, instead)
    return text + f'[[run]]\nstart = "0:0:1"\nslot = {ROW_START}\npanels = ["A1..J1"]\n'


def of_row(shift, dark, stray):
    """512 slots: the reference of the row, shifted, without `dark` and with `stray`."""
    slots = bytearray(512)
    for slot in FIRST_PIXELS:
        if slot not in dark and 0 <= slot + shift < 512:
            slots[slot + shift] = 255
    for slot in stray:
        slots[slot] = 255
    return bytes(slots)


def landed(slots):
    """The verdict and the shift by numpy's correlation over all lags, from -511 to 511."""
    lit = (numpy.frombuffer(slots, dtype=numpy.uint8) > 0).astype(int)
    if not lit.any():
        return "dark", 0
    expected = numpy.zeros(512, dtype=int)
    expected[FIRST_PIXELS] = 1
    distances = lit.sum() + expected.sum() - 2 * numpy.correlate(lit, expected, "full")
    order = numpy.argsort(distances, kind="stable")
    best, second = distances[order[:2]]
    shift = int(order[0]) - 511
    if second < 3 * best + 2 or (shift == 0 and (expected > lit).any()):
        return "unclear", 0
    return ("shifted", shift) if shift else ("right", 0)


class Live:
    """As much of a WebSocket client (RFC 6455) as it takes to wish for slots and to read them."""

    def __init__(self, url, wish):
        host = url.removeprefix("http://")
        name, port = host.split(":")
        self.socket = socket.create_connection((name, int(port)), timeout=PATIENCE_S)
        key = base64.b64encode(os.urandom(16)).decode()
        self.socket.sendall(
            f"GET /api/v1/live HTTP/1.1\r\nHost: {host}\r\nUpgrade: websocket\r\n"
            f"Connection: Upgrade\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: {key}\r\n\r\n".encode()
        )
        self.file = self.socket.makefile("rb")
        assert b" 101 " in self.file.readline()
        while self.file.readline() != b"\r\n":
            pass
        payload = json.dumps(wish).encode()
        assert len(payload) < 126
        # Whole, text, masked with zeros.
        self.socket.sendall(bytes([0x81, 0x80 | len(payload), 0, 0, 0, 0]) + payload)

    def next_slots(self):
        """Verdict, shift and levels of the one universe that was wished for."""
        while True:
            kind, length = self.file.read(2)
            if length >= 126:
                wide = 2 if length == 126 else 8
                length = int.from_bytes(self.file.read(wide), "big")
            message = self.file.read(length)
            if kind == 0x82 and message[0] == 5 and len(message) > 12:
                verdict, _, shift = struct.unpack_from("<BBh", message, 12 + 8)
                return verdict, shift, message[24 : 24 + 512]

    def close(self):
        self.file.close()
        self.socket.close()


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

    def test_numpy_says_the_same_of_a_reference(self):
        with tempfile.TemporaryDirectory() as directory:
            path = pathlib.Path(directory, "floor.toml")
            path.write_text(row())
            with Daemon("run", str(path)) as daemon:
                console = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
                live = Live(daemon.url, {"view": "none", "slots": ["0:0:1"], "reference": "first_pixels"})
                for shift, dark, stray, word in REFERENCES:
                    slots = of_row(shift, dark, stray)
                    head = struct.pack("<8sHHBBHH", b"Art-Net\0", 0x5000, 0x0E00, 0, 0, 1, 0x0002)
                    while True:
                        console.sendto(head + slots, daemon.artnet)
                        verdict, by, levels = live.next_slots()
                        if levels == slots:
                            break
                    told = (WORDS[verdict], by)
                    self.assertEqual(told, landed(slots), (shift, dark, stray))
                    self.assertEqual(told, (word, shift if word == "shifted" else 0))
                live.close()
                console.close()
        print(f"{len(REFERENCES)} references as numpy sees them")


if __name__ == "__main__":
    unittest.main()
