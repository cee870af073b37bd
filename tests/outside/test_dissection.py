"""What litfloor really sent, dissected by tshark and compared field by field."""

import collections
import unittest

from bench import Bench
from daemon import SLOTS, UNIVERSES, picture
from dissect import dissect

DMX = [
    "artnet.header.id",
    "artnet.header.opcode",
    "artnet.header.protver",
    "artnet.output.sequence",
    "artnet.output.physical",
    "artnet.output.universe",
    "artnet.output.length",
    "dmx_chan.data_filter",
]
POLL = ["artnet.poll.talktome", "artnet.poll.diag_priority"]
REPLY = [
    f"artnet.poll_reply.{name}"
    for name in [
        "ip_address", "port_nr", "versinfo", "netswitch", "subswitch", "oem", "esta_man",
        "short_name", "long_name", "num_ports", "bind_ip_address", "bind_index", "status2",
        *(f"port_types_{port}" for port in range(1, 5)),
        *(f"good_output_{port}" for port in range(1, 5)),
        *(f"swout_{port}_universe" for port in range(1, 5)),
    ]
]


class Dissection(unittest.TestCase):
    def test_frames_and_polls(self):
        with Bench() as bench:
            bench.show()
            # So many that every universe's numbers wrap: each picture differs from the last.
            for node in bench.nodes:
                def wrapped(arrived, node=node):
                    frames = collections.Counter(
                        data[14:16] for data in arrived if data[8:10] == b"\x00\x50"
                    )
                    return len(frames) == len(bench.own(node)) and min(frames.values()) > 270

                turn = iter(range(10**9))

                def again():
                    level = next(turn) % 100
                    bench.send(lambda universe: bytes([level]) + picture(universe)[1:])

                node.until(wrapped, again)
            bench.show()
            sent = [list(node.arrived) for node in bench.nodes]
        frames = polls = 0
        for node, datagrams in zip(bench.nodes, sent):
            numbers = collections.defaultdict(list)
            newest = {}
            for data, row in zip(datagrams, dissect(datagrams, DMX + POLL)):
                self.assertNotIn("_ws.malformed", row)
                self.assertEqual(row["artnet.header.id"], "Art-Net")
                self.assertEqual(row["artnet.header.protver"], "14")
                if row["artnet.header.opcode"] == "0x2000":
                    self.assertEqual(row["artnet.poll.talktome"], "0x00")
                    polls += 1
                    continue
                self.assertEqual(row["artnet.header.opcode"], "0x5000")
                self.assertEqual(row["artnet.output.physical"], "0")
                self.assertEqual(row["artnet.output.length"], str(SLOTS))
                universe = int(row["artnet.output.universe"])
                self.assertIn(universe, bench.own(node))
                slots = bytes.fromhex(row["dmx_chan.data_filter"])
                self.assertEqual(slots, data[18:])
                numbers[universe].append(int(row["artnet.output.sequence"]))
                newest[universe] = slots
                frames += 1
            self.assertEqual(newest, {u: picture(u) for u in bench.own(node)})
            for row in numbers.values():
                self.check_numbers(row)
        self.assertGreaterEqual(polls, 2)
        print(f"{frames} frames and {polls} polls dissected, none malformed")

    def check_numbers(self, row):
        """0 (not numbered) only at the start, then 1 to 255 and 1 again, none left out."""
        numbered = [number for number in row if number]
        self.assertEqual(row[: len(row) - len(numbered)], [0] * (len(row) - len(numbered)))
        expected = [1 + at % 255 for at in range(len(numbered))]
        self.assertEqual(numbered, expected)
        self.assertGreater(len(numbered), 255)

    def test_replies_to_a_poll(self):
        with Bench() as bench:
            bench.show()
            replies = bench.poll(replies=3)
        rows = dissect(replies, ["artnet.header.opcode", *REPLY])
        pages = [(UNIVERSES[:4], "0x00", "0x00"), (UNIVERSES[4:5], "0x00", "0x00"),
                 (UNIVERSES[5:], "0x01", "0x02")]
        for bind_index, (row, (universes, net, sub_net)) in enumerate(zip(rows, pages), 1):
            row = {name.removeprefix("artnet.poll_reply."): value for name, value in row.items()}
            self.assertNotIn("_ws.malformed", row)
            ports = len(universes)
            expected = {
                "artnet.header.opcode": "0x2100",
                "ip_address": "127.0.0.1",
                "port_nr": "6454",
                "netswitch": net,
                "subswitch": sub_net,
                "oem": "0x00ff",
                "esta_man": "0x7ff0",
                "short_name": "litfloor Six",
                "long_name": "litfloor: Six",
                "num_ports": str(ports),
                "bind_ip_address": "127.0.0.1",
                "bind_index": f"0x{bind_index:02x}",
                "status2": "0x08",
            }
            for port in range(4):
                expected[f"port_types_{port + 1}"] = "0x80" if port < ports else "0x00"
                expected[f"good_output_{port + 1}"] = "0x80" if port < ports else "0x00"
                if port < ports:
                    expected[f"swout_{port + 1}_universe"] = str(universes[port])
            self.assertEqual({name: row.get(name) for name in expected}, expected)
        print(f"{len(rows)} replies dissected, {sum(len(page[0]) for page in pages)} ports")


if __name__ == "__main__":
    unittest.main()
