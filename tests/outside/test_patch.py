"""`litfloor patch` against numpy's index arithmetic, tshark and independent Art-Net libraries."""

import json
import pathlib
import random
import subprocess
import tempfile
import unittest

import numpy
from python_artnet import python_artnet
from stupidArtnet import StupidArtnet

from daemon import LITFLOOR
from dissect import dissect

SIDE_MM = 600
SEED = 20240229

HEAD = """
name = "Matrices"
[grid]
columns = 1
rows = {rows}
panel_mm = [600, 600]
[pixel.rgb]
slots = "RGB"
volts = 12
full_ma = {{ red = 1, green = 1, blue = 1 }}
idle_ma = 0
[[node]]
name = "north"
address = "127.0.0.1"
[[circuit]]
name = "c"
volts = 230
rated_a = 1000
[[supply]]
name = "s"
circuit = "c"
volts = 12
rated_a = 1000
efficiency = 0.9
power_factor = 0.9
[[feed]]
name = "f"
supply = "s"
fuse_a = 1000
positions = ["A1..A{rows}"]
"""


class Panel:
    """A random matrix, how it is wired, and how it lies."""

    def __init__(self, chance):
        self.columns, self.rows = chance.randint(1, 9), chance.randint(1, 9)
        self.first = chance.choice(["rows", "columns"])
        self.path = chance.choice(["straight", "serpentine"])
        self.side = chance.choice(["left", "right"])
        self.end = chance.choice(["top", "bottom"])
        self.turn = chance.choice([0, 90, 180, 270])
        self.mirrored = chance.choice([False, True])
        self.packing = chance.choice(["packed", "whole-pixel"])
        self.slot = chance.randint(1, 512)

    def kind(self, number):
        return f"""
            [panel.p{number}]
            pixel = "rgb"
            columns = {self.columns}
            rows = {self.rows}
            wiring = {{ first = "{self.first}", path = "{self.path}", from = "{self.end}-{self.side}" }}
            at = ["A{number}"]
        """

    def run(self, number, start):
        return f"""
            [[run]]
            node = "north"
            start = "{start}"
            slot = {self.slot}
            packing = "{self.packing}"
            panels = [{{ at = "A{number}", turn = {self.turn}, mirrored = {str(self.mirrored).lower()} }}]
        """

    def order(self):
        """The numbers of the pixels where they lie, by numpy alone."""
        shape = (self.rows, self.columns) if self.first == "rows" else (self.columns, self.rows)
        lines = numpy.arange(1, shape[0] * shape[1] + 1).reshape(shape)
        if self.path == "serpentine":
            lines[1::2] = lines[1::2, ::-1]
        order = lines if self.first == "rows" else lines.T
        if self.side == "right":
            order = numpy.fliplr(order)
        if self.end == "bottom":
            order = numpy.flipud(order)
        if self.mirrored:
            order = numpy.fliplr(order)
        # Turned clockwise, which is the other way round than rot90 turns.
        return numpy.rot90(order, -self.turn // 90)

    def slots(self):
        """First slot of each pixel, all universes in a row, from 0; whole pixels leave the end free."""
        pixels = numpy.arange(self.columns * self.rows)
        if self.packing == "packed":
            return self.slot - 1 + 3 * pixels
        fit = (512 - (self.slot - 1)) // 3
        return numpy.where(
            pixels < fit, self.slot - 1 + 3 * pixels, 512 + 512 * ((pixels - fit) // 170) + 3 * ((pixels - fit) % 170)
        )


def written(port_address):
    return f"{port_address >> 8}:{port_address >> 4 & 15}:{port_address & 15}"


class Patch(unittest.TestCase):
    def setUp(self):
        self.directory = tempfile.TemporaryDirectory()
        self.addCleanup(self.directory.cleanup)
        self.path = pathlib.Path(self.directory.name, "floor.toml")

    def ask(self, *arguments):
        command = [LITFLOOR, "patch", str(self.path), *arguments, "--format", "json"]
        return json.loads(subprocess.run(command, check=True, capture_output=True).stdout)

    def write(self, panels, starts):
        numbered = list(enumerate(panels, 1))
        text = HEAD.format(rows=len(panels))
        text += "".join(panel.kind(number) for number, panel in numbered)
        text += "".join(panel.run(number, starts[number - 1]) for number, panel in numbered)
        self.path.write_text(text)

    def test_pixels_lie_where_numpy_puts_them(self):
        chance = random.Random(SEED)
        panels = [Panel(chance) for _ in range(120)]
        self.write(panels, [written(number * 4) for number in range(len(panels))])
        sheet = self.ask()
        self.assertEqual(len(sheet["runs"]), len(panels))
        pixels = 0
        for number, panel in enumerate(panels, 1):
            row = sheet["runs"][number - 1]["panels"][0]
            self.assertEqual((row["turn_deg"], row["mirrored"]), (panel.turn, panel.mirrored))
            order, slots = panel.order(), panel.slots()
            told = self.ask("--pixel", f"A{number}")["asked"]
            found = numpy.zeros_like(order)
            for pixel in told:
                x_mm, y_mm = pixel["on_panel_mm"]
                place = int(y_mm * order.shape[0] / SIDE_MM), int(x_mm * order.shape[1] / SIDE_MM)
                found[place] = pixel["pixel"]
                first = pixel["slots"][0]["at_node"]
                at = (first["universe"] - (number - 1) * 4) * 512 + first["slot"] - 1
                self.assertEqual(at, slots[pixel["pixel"] - 1], (number, pixel))
            numpy.testing.assert_array_equal(found, order, err_msg=str(vars(panel)))
            pixels += order.size
            first = row["at_node"]["first"]
            at = (first["universe"] - (number - 1) * 4) * 512 + first["slot"] - 1
            self.assertEqual(at, slots[0])
        print(f"{len(panels)} matrices, {pixels} pixels")

    def test_port_addresses_are_those_that_others_read(self):
        chance = random.Random(SEED)
        addresses = sorted({0, 1, 15, 16, 255, 256, 0x7FFE, *(chance.randrange(0x7FFE) for _ in range(60))})
        panels = [Panel(chance) for _ in addresses]
        for panel in panels:
            panel.columns = panel.rows = panel.slot = 1
        self.write(panels, [written(address) for address in addresses])
        places = [run["panels"][0]["at_node"]["first"] for run in self.ask()["runs"]]
        # An independent sender is told the three parts; independent readers say the one number.
        sender = StupidArtnet("127.0.0.1", 0, 2)
        self.addCleanup(sender.close)
        sender.is_simplified = False
        datagrams = []
        for place in places:
            net, sub_net, universe = map(int, place["port_address"].split(":"))
            sender.set_net(net)
            sender.set_subnet(sub_net)
            sender.set_universe(universe)
            datagrams.append(bytes(sender.packet_header) + bytes(2))
        rows = dissect(datagrams, ["artnet.output.universe"])
        self.assertEqual([int(row["artnet.output.universe"]) for row in rows], [p["universe"] for p in places])
        decoder = python_artnet.Artnet.__new__(python_artnet.Artnet)
        decoder.DEBUG = False
        decoder.packet_buffer = [None] * 0x8000
        read = [decoder.artnet_packet_to_array(data, ("127.0.0.1", 6454)).universe for data in datagrams]
        self.assertEqual(read, [place["universe"] for place in places])
        self.assertEqual([place["universe"] for place in places], addresses)
        for address, place in zip(addresses, places):
            found = self.ask("--at", f"{address}/1")
            self.assertEqual(found["asked"]["port_address"], place["port_address"])
            self.assertEqual(len(found["at_node"]["lights"]), 1)
        print(f"{len(addresses)} Port-Addresses")


if __name__ == "__main__":
    unittest.main()
