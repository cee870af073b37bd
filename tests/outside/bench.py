"""A running floor of six panels with two nodes, driven by an independent sender."""

import pathlib
import socket
import tempfile

from stupidArtnet import StupidArtnet

from daemon import PATIENCE_S, SLOTS, UNIVERSES, Daemon, Node, floor, picture


class Bench:
    """`litfloor run`, two nodes that take turns with the panels, and one sender a universe.

    The sender is the library stupidArtnet: its sequence never moves from 0, it sends from an
    ephemeral port, and it needs no reply to a poll.
    """

    def __enter__(self):
        self.directory = tempfile.TemporaryDirectory()
        self.nodes = [Node("west"), Node("east")]
        path = pathlib.Path(self.directory.name, "floor.toml")
        path.write_text(floor(self.nodes))
        self.daemon = Daemon("run", str(path))
        self.sent = 0
        host, port = self.daemon.artnet
        self.senders = {
            universe: StupidArtnet(host, universe, SLOTS, port=port) for universe in UNIVERSES
        }
        return self

    def __exit__(self, *raised):
        self.daemon.__exit__(*raised)
        for node in self.nodes:
            node.close()
        for sender in self.senders.values():
            sender.close()
        self.directory.cleanup()

    def own(self, node):
        """The universes that the floor file gives to a node."""
        return UNIVERSES[self.nodes.index(node) :: len(self.nodes)]

    def send(self, of=picture):
        """Sends every universe once."""
        for universe, sender in self.senders.items():
            sender.send(bytearray(of(universe)))
            self.sent += 1

    def show(self, of=picture):
        """Sends until every node holds exactly that."""
        for node in self.nodes:
            def holds(_arrived, node=node):
                newest = [(node.newest(universe), of(universe)) for universe in self.own(node)]
                return all(data and data[18:] == slots for data, slots in newest)

            node.until(holds, again=lambda: self.send(of))

    def poll(self, replies):
        """Polls litfloor from a socket of its own; gives as many replies as there should be."""
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as poller:
            poller.settimeout(PATIENCE_S)
            poller.sendto(bytes.fromhex("4172742d4e6574000020000e0000"), self.daemon.artnet)
            return [poller.recv(2048) for _ in range(replies)]
