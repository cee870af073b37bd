"""The running program, a node and a floor file: what the outside checks stand on.

Everything is on the loopback. LITFLOOR names the program; tests/all.sh sets it.
"""

import json
import os
import pathlib
import queue
import signal
import socket
import struct
import subprocess
import threading
import time
import urllib.error
import urllib.request

ROOT = pathlib.Path(__file__).resolve().parents[2]
LITFLOOR = os.environ.get("LITFLOOR", str(ROOT / "target" / "debug" / "litfloor"))

# What whoever runs the tests has set, or has kept, is none of their business.
ENVIRONMENT = {
    name: value
    for name, value in os.environ.items()
    if name not in ("LITFLOOR_LOG", "LITFLOOR_PASSPHRASE", "STATE_DIRECTORY")
}
ENVIRONMENT["XDG_STATE_HOME"] = str(ROOT / "target" / "tmp" / "outside")

# Longer than anything here takes on a machine that is busy with other things.
PATIENCE_S = 30.0

# How often something is looked at that tells nobody when it changes.
LOOK_EVERY_S = 0.02


class Daemon:
    """A running `litfloor`; leaves with SIGINT and must then end with 0."""

    def __init__(self, *arguments):
        self.process = subprocess.Popen(
            [LITFLOOR, *arguments, "--artnet", "127.0.0.1:0", "--http", "127.0.0.1:0"],
            stdout=subprocess.PIPE,
            text=True,
            env=ENVIRONMENT,
        )
        self.lines = queue.Queue()
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()
        host, port = self._said("Art-Net in: ").split(":")
        self.artnet = (host, int(port))
        self.url = self._said("Dashboard: ")

    def _read(self):
        for line in self.process.stdout:
            self.lines.put(line.rstrip("\n"))
        self.lines.put(None)

    def _said(self, beginning):
        deadline = time.monotonic() + PATIENCE_S
        while True:
            line = self.lines.get(timeout=max(0.001, deadline - time.monotonic()))
            assert line is not None, f"it ended without saying {beginning!r}"
            if line.startswith(beginning):
                return line.removeprefix(beginning)

    def get(self, path):
        """What is served at a path, as JSON."""
        with urllib.request.urlopen(self.url + path, timeout=PATIENCE_S) as answer:
            return json.load(answer)

    def post(self, path, body):
        """Status and JSON of the answer to a program on this machine that changes something."""
        request = urllib.request.Request(
            self.url + path, json.dumps(body).encode(), {"Content-Type": "application/json"}
        )
        try:
            with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
                return answer.status, json.load(answer)
        except urllib.error.HTTPError as refused:
            with refused:
                return refused.code, json.load(refused)

    def until(self, found):
        """Looks at the state again and again until `found` of it is something."""
        deadline = time.monotonic() + PATIENCE_S
        while True:
            state = self.get("/api/v1/state")
            if result := found(state):
                return result
            assert time.monotonic() < deadline, f"never came: {json.dumps(state, indent=1)}"
            try:
                # Ends early when the program does, for then its output ends.
                assert self.lines.get(timeout=LOOK_EVERY_S) is not None, "it has ended"
            except queue.Empty:
                pass

    def __enter__(self):
        return self

    def __exit__(self, kind, _value, _traceback):
        self.process.send_signal(signal.SIGINT)
        try:
            status = self.process.wait(PATIENCE_S)
        except subprocess.TimeoutExpired:
            self.process.kill()
            raise
        finally:
            self.reader.join()
            self.process.stdout.close()
        if kind is None:
            assert status == 0, f"it ended with {status}"


class Node:
    """A UDP socket that answers polls and keeps every datagram, in order.

    Its reply is written here byte by byte after the published layout: 239 bytes, four outputs
    of Net 0, Sub-Net 0.
    """

    def __init__(self, name):
        self.socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self.socket.bind(("127.0.0.1", 0))
        self.socket.settimeout(0.05)
        self.address = self.socket.getsockname()
        self.arrived = []
        self.changed = threading.Condition()
        self.open = True
        self.reply = struct.pack(
            "<8sH4sH2BBB2sBBH18s64s64sBB4s4s4s4s4s3B3xB6s4sBB26x",
            b"Art-Net\0", 0x2100, bytes([127, 0, 0, 1]), 6454, 3, 7, 0, 0, b"\0\xff", 0, 0,
            0x7FF0, name.encode(), name.encode(), b"#0001 [0001] ok", 0, 4, b"\x80" * 4,
            bytes(4), b"\x80" * 4, bytes(4), bytes([0, 1, 2, 3]), 0, 0, 0, 0, bytes(6),
            bytes([127, 0, 0, 1]), 1, 8,
        )
        assert len(self.reply) == 239
        self.thread = threading.Thread(target=self._serve, daemon=True)
        self.thread.start()

    def _serve(self):
        while self.open:
            try:
                data, sender = self.socket.recvfrom(2048)
            except TimeoutError:
                continue
            if data[8:10] == b"\x00\x20":
                self.socket.sendto(self.reply, sender)
            with self.changed:
                self.arrived.append(data)
                self.changed.notify_all()

    def until(self, found, again):
        """Calls `again` (at a console's pace) until `found` of all datagrams is something."""
        deadline = time.monotonic() + PATIENCE_S
        with self.changed:
            while not (result := found(self.arrived)):
                assert time.monotonic() < deadline, f"{len(self.arrived)} datagrams, none fits"
                again()
                self.changed.wait(LOOK_EVERY_S)
            return result

    def newest(self, port_address):
        """The newest ArtDmx of a universe, or nothing."""
        def fits(data):
            return data[8:10] == b"\x00\x50" and data[14:16] == struct.pack("<H", port_address)

        with self.changed:
            return next((data for data in reversed(self.arrived) if fits(data)), None)

    def close(self):
        self.open = False
        self.thread.join()
        self.socket.close()


# Port-Addresses of `floor`: five of one Sub-Net, so that it needs two replies, and one far away.
UNIVERSES = [0x0001, 0x0002, 0x0003, 0x0004, 0x0005, 0x0123]

# Slots of one of its panels.
SLOTS = 60


def floor(nodes):
    """A floor file of six panels, each in a universe of its own, for nodes that take turns.

    A panel draws 0.02 A dark and 1.22 A white; the supply may give 4 A.
    """
    text = """
name = "Six"
grid = { columns = 3, rows = 2, panel_mm = [500, 500], panel = "tile" }
cap = { margin = 0.8, let_up_s = 0.2 }
[pixel.p]
slots = "RGB"
volts = 12
full_ma = { red = 20, green = 20, blue = 20 }
idle_ma = 1
[panel.tile]
pixel = "p"
columns = 5
rows = 4
[[circuit]]
name = "c"
volts = 230
rated_a = 16
[[supply]]
name = "s"
circuit = "c"
volts = 12
rated_a = 5
efficiency = 0.9
power_factor = 0.9
[[feed]]
name = "f"
supply = "s"
fuse_a = 15
positions = ["A1..C2"]
"""
    for at, node in enumerate(nodes):
        host, port = node.address
        text += f'[[node]]\nname = "n{at}"\naddress = "{host}"\nport = {port}\n'
    for at, (panel, universe) in enumerate(zip(["A1", "B1", "C1", "A2", "B2", "C2"], UNIVERSES)):
        start = f"{universe >> 8}:{universe >> 4 & 15}:{universe & 15}"
        text += (
            f'[[run]]\nnode = "n{at % len(nodes)}"\nport = {at // len(nodes) + 1}\n'
            f'start = "{start}"\npanels = ["{panel}"]\n'
        )
    return text


def picture(universe):
    """Another level in every slot, about 35 % of full, so that nothing is capped."""
    return bytes((universe * 7 + slot * 3) % 180 for slot in range(SLOTS))
