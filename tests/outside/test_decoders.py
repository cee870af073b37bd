"""Independent decoders read what litfloor sends: python-artnet 1.2.0 and aioartnet 0.2.1."""

import unittest

from aioartnet import ArtNetClient
from aioartnet.client import ArtNetClientProtocol
from python_artnet import python_artnet

from bench import Bench
from daemon import SLOTS, UNIVERSES, picture


def strict_decoder():
    """python-artnet's decoder without the thread and the socket that it would open."""
    decoder = python_artnet.Artnet.__new__(python_artnet.Artnet)
    decoder.DEBUG = False
    decoder.packet_buffer = [None] * 0x8000
    return decoder


class Decoders(unittest.TestCase):
    def test_python_artnet_reads_every_frame(self):
        with Bench() as bench:
            bench.show()
            decoder, read = strict_decoder(), 0
            for node in bench.nodes:
                newest = {}
                for data in list(node.arrived):
                    if data[8:10] != b"\x00\x50":
                        continue
                    # It refuses a Length that is not that of the datagram.
                    packet = decoder.artnet_packet_to_array(data, ("127.0.0.1", 6454))
                    self.assertIsNotNone(packet, data.hex())
                    self.assertEqual((packet.ver, packet.physical, packet.length), (14, 0, SLOTS))
                    self.assertIn(packet.universe, bench.own(node))
                    newest[packet.universe] = packet.data
                    read += 1
                expected = {universe: list(picture(universe)) for universe in bench.own(node)}
                self.assertEqual(newest, expected)
            print(f"{read} frames read")

    def test_aioartnet_reads_frames_and_the_answers_to_a_poll(self):
        with Bench() as bench:
            bench.show()
            client = ArtNetClient(passive=True)
            protocol = ArtNetClientProtocol(client)
            for node in bench.nodes:
                for data in list(node.arrived):
                    protocol.datagram_received(data, ("127.0.0.1", 6454))
            for universe in UNIVERSES:
                held = bytes(client.universes[universe].last_data[:SLOTS])
                self.assertEqual(held, picture(universe))
            for data in bench.poll(replies=3):
                protocol.datagram_received(data, bench.daemon.artnet)
            (node,) = client.nodes.values()
            self.assertEqual((node.ip, node.udpport), ("127.0.0.1", 6454))
            self.assertEqual((node.portName, node.longName), ("litfloor Six", "litfloor: Six"))
            ports = [(port.is_input, port.media, port.portaddr) for port in node.ports]
            self.assertEqual(ports, [(False, 0, universe) for universe in UNIVERSES])
            print(f"{node}: {node.ports}")


if __name__ == "__main__":
    unittest.main()
