"""tshark decodes the golden packets of tests/vectors/artnet.json.

`tests/vectors.rs` has litfloor read the same bytes and expects the same fields.
"""

import json
import unittest

from daemon import ROOT
from dissect import dissect

FIELDS = [
    "artnet.header.opcode",
    "artnet.output.sequence",
    "artnet.output.physical",
    "artnet.output.universe",
    "artnet.output.length",
    "dmx_chan.data_filter",
    "artnet.poll.talktome",
    "artnet.poll.target_port_top",
    "artnet.poll.target_port_bottom",
    "artnet.poll_reply.ip_address",
    "artnet.poll_reply.versinfo",
    "artnet.poll_reply.short_name",
    "artnet.poll_reply.long_name",
    "artnet.poll_reply.node_report",
    "artnet.poll_reply.port_types_1",
    "artnet.poll_reply.port_types_2",
    "artnet.poll_reply.swin_1_universe",
    "artnet.poll_reply.swout_1_universe",
    "artnet.poll_reply.bind_index",
]


def dmx(sequence, physical, universe, slots):
    return ["0x5000", sequence, physical, universe, str(len(slots) // 2), slots]


def reply(name, report, types, swin, swout, bind_index):
    names = [name, f"{name} node", report]
    fields = ["127.0.0.1", "0x0001", *names, types, "0x00", swin, swout]
    return ["0x2100", *fields] + ([bind_index] if bind_index else [])


# 5:3:2 is 0x0532 = 1330 and 5:3:4 is 1332; 1:2:3 is 0x0123 = 291.
FLOOR = ("Floor", "#0001 [0007] ok", "0xc0", "1332", "1330")
EXPECTED = {
    "dmx_min": dmx("1", "0", "1", "ff80"),
    "dmx_addr": dmx("255", "3", "1330", "01020304"),
    "dmx_odd": dmx("0", "0", "7", "0102030405"),
    "poll14": ["0x2000", "0x02"],
    # Targeted: top 0x053f, bottom 0x0530.
    "poll22": ["0x2000", "0x22", "1343", "1328"],
    "sync": ["0x5200"],
    "timecode": ["0x9700"],
    "trigger": ["0x9900"],
    "trigger_full": ["0x9900"],
    "diag": ["0x2300"],
    "address": ["0x6000"],
    "todreq": ["0x8000"],
    "rdm_sensor_value": ["0x8300"],
    "pollreply239": reply(*FLOOR, "0x01"),
    "pollreply213": reply(*FLOOR, "0x01"),
    "pollreply207": reply(*FLOOR, None),
    "poll_reply_239": reply("panel", "#0001 [0001] ok.", "0x80", "288", "291", "0x01"),
}

# tshark 4.0.17 wants more bytes than the specification does.
CALLED_MALFORMED = {"pollreply207", "trigger"}


class Vectors(unittest.TestCase):
    def test_tshark_reads_every_vector(self):
        vectors = json.loads((ROOT / "tests/vectors/artnet.json").read_text())
        self.assertEqual(set(vectors), set(EXPECTED))
        rows = dissect([bytes.fromhex(text) for text in vectors.values()], FIELDS)
        for name, row in zip(vectors, rows):
            with self.subTest(name):
                malformed = row.pop("_ws.malformed", None) is not None
                self.assertEqual(list(row.values()), EXPECTED[name])
                if name not in CALLED_MALFORMED:
                    self.assertFalse(malformed)
        print(f"{len(rows)} vectors dissected")


if __name__ == "__main__":
    unittest.main()
