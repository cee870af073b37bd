#!/usr/bin/env python3
"""Writes the seeds of the fuzz targets, always the same: fuzz/make_seeds.py

Each target says at its head how its input is made up. Run this again when that changes. Into words/ go the words
that the targets are likely to understand, which the fuzzer puts into its inputs.
"""

import json
import pathlib
import re
import shutil
import struct

HERE = pathlib.Path(__file__).resolve().parent
OUT = HERE / "seeds"
FLOOR = (HERE / "floor.toml").read_text()


def write(target, seeds):
    directory = OUT / target
    shutil.rmtree(directory, ignore_errors=True)
    directory.mkdir(parents=True)
    for name, content in seeds.items():
        (directory / name).write_bytes(content if isinstance(content, bytes) else content.encode())
    print(f"{target}: {len(seeds)} seeds")


def words(target, texts, more=()):
    """Keys and short strings of some texts."""
    found = set(more)
    for text in texts:
        found |= set(re.findall(r"[A-Za-z_][A-Za-z0-9_.-]{2,30}", text))
    lines = [f'"{word}"' for word in sorted(found)]
    (HERE / "words").mkdir(exist_ok=True)
    (HERE / "words" / f"{target}.dict").write_text("\n".join(lines) + "\n")


# --- artnet --------------------------------------------------------------------------------------

# Places in SENDERS of the target.
CONSOLE, OTHER, THIRD, NORTH, SOUTH = 0, 1, 2, 3, 4


def packet(opcode, rest, version=14):
    return b"Art-Net\0" + struct.pack("<H", opcode) + struct.pack(">H", version) + rest


def artdmx(universe, slots, sequence=1, physical=0):
    return packet(0x5000, struct.pack("<BBH", sequence, physical, universe) + struct.pack(">H", len(slots)) + slots)


def artpoll(flags=0, low=None, high=None):
    targeted = b"" if low is None else struct.pack(">HH", high, low)
    return packet(0x2000, bytes([flags, 0]) + targeted)


def reply(ip, ports=4, bind=1, name=b"north", net=0, sub=0):
    """The layout of ArtPollReply as the standard has it: 239 bytes."""
    return struct.pack(
        "<8sH4sH2BBB2sBBH18s64s64sBB4s4s4s4s4s3B3xB6s4sBB26x",
        b"Art-Net\0", 0x2100, bytes(ip), 6454, 3, 7, net, sub, b"\0\xff", 0, 0, 0x7FF0, name, name,
        b"#0001 [0001] ok", 0, ports, b"\x80" * 4, bytes(4), b"\x80" * 4, bytes(4), bytes([1, 2, 3, 4]),
        0, 0, 0, 0, bytes(6), bytes(ip), bind, 8,
    )


def datagram(sender, content):
    return bytes([0, sender]) + struct.pack("<H", len(content)) + content


def stranger(ip, port, content):
    return bytes([0, 255]) + bytes(ip) + struct.pack("<HH", port, len(content)) + content


def frame(universe, level, sequence=0, slots=512, step=0, sender=CONSOLE):
    return bytes([1, sender, sequence]) + struct.pack("<HH", universe, slots) + bytes([level, step])


def ms(count):
    """A pause of about so many milliseconds."""
    for shift in range(4):
        if count >> (3 * shift) < 64:
            return bytes([2, shift << 6 | count >> (3 * shift)])
    return bytes([2, 255])


SYNC, POLL, LOOK = b"\3\0\0", b"\3\0\1", b"\6"
ALL = [0x0001, 0x0002, 0x0003, 0x0010]


def show(level, sequence=0, sender=CONSOLE):
    return b"".join(frame(universe, level, sequence, sender=sender) for universe in ALL)


def artnet():
    nodes = b"\0"
    video = b"".join(show(40 * at % 256, at) + ms(23) for at in range(1, 12))
    chase = b"".join(
        b"".join(frame(universe, 255 * (at % 4 == place)) for place, universe in enumerate(ALL)) + ms(23)
        for at in range(12)
    )
    flood = b"".join(
        stranger([10, 1, at >> 8, at & 255], 6454, artdmx(0x0001, b"\xff" * 16, physical=at & 255)) for at in range(40)
    )
    strangers = b"".join(
        stranger([10, 2, 0, at], 6454, reply([10, 2, 0, at], name=b"s%d" % at)) for at in range(40)
    )
    unmapped = b"".join(frame(0x0100 + at, 255, slots=8) for at in range(80))
    pages = b"".join(datagram(NORTH, reply([10, 0, 0, 21], bind=at)) for at in range(80))
    codes = [0x2300, 0x2400, 0x5100, 0x6000, 0x7000, 0x8000, 0x9700, 0xF000, 0x1234]
    odd = [
        b"", b"Art-Net", b"Art-Net\0", b"Art-Net\0\0\x50", packet(0x5000, b"\1\0\1\0\2\1" + bytes(513)),
        packet(0x5000, b"\1\0\1\0\0\0"), packet(0x5000, b"\1\0\1\x80\0\2\0\0"), artdmx(1, b"\xff" * 7),
        packet(0x5000, b"\1\0\1\0\0\2\0", version=13), reply([10, 0, 0, 21])[:100], reply([10, 0, 0, 21], ports=9),
    ]
    switches = b"".join(datagram(NORTH, artdmx(0x0020, bytes([255 * (at % 2)] * 10))) + ms(80) for at in range(6))
    # What the other litfloor says: 0 that it stands by, 1 that it leads, 2 that it ends.
    stands, leads, ends = (bytes([7, what, 0]) for what in (0, 1, 2))
    beating = b"".join(leads + show(9 * at, at) + ms(50) for at in range(12))
    both = b"\x80"
    return {
        "stands-by": both + beating + LOOK,
        "takes-the-lead": both + beating + ms(500) + show(200) + ms(100) + LOOK,
        "is-told": both + beating + ends + show(200) + ms(100) + LOOK,
        "gives-it-back": both + beating + ends + show(99) + ms(60) + bytes([7, 0x40, 0]) + show(255) + ms(60) + LOOK,
        "both-led": both + ms(700) + show(255) + ms(60) + leads + show(255) + ms(60) + stands + ms(500) + show(255) + LOOK,
        "turned-down": both + bytes([7, 1, 9]) + show(255) + ms(400) + show(255) + ms(400) + LOOK,
        "video": nodes + video + LOOK,
        "chase": nodes + chase + LOOK,
        "white-at-once": nodes + show(255) + ms(500) + show(0) + ms(30) + show(255) + ms(2000) + LOOK,
        "two-consoles": nodes + show(200) + show(90, sender=OTHER) + ms(100) + show(10) + ms(11000) + LOOK,
        "three-consoles": nodes + show(200) + show(90, sender=OTHER) + show(255, sender=THIRD) + ms(50) + LOOK,
        "synced": b"\x0f" + show(255) + SYNC + ms(20) + show(20) + SYNC + ms(4500) + show(255) + ms(100) + LOOK,
        "sync-stops": b"\x05" + show(255) + SYNC + show(1) + ms(5000) + LOOK,
        "lost-and-back": nodes + show(255) + ms(3500) + show(255) + ms(40) + LOOK,
        "polls": nodes + POLL + datagram(OTHER, artpoll(2)) + datagram(THIRD, artpoll(0x20, 0, 15)) + LOOK,
        "poll-from-a-node": nodes + datagram(NORTH, artpoll()) + datagram(7, artpoll()) + LOOK,
        "nodes-answer": nodes + datagram(NORTH, reply([10, 0, 0, 21])) + datagram(SOUTH, reply([10, 0, 0, 22], net=0, sub=1))
        + ms(10000) + ms(4000) + LOOK,
        "pages": nodes + pages + LOOK,
        "strangers": nodes + strangers + LOOK,
        "sources": nodes + flood + ms(100) + LOOK,
        "unmapped": nodes + unmapped + LOOK,
        "switches": nodes + switches + LOOK,
        "switches-from-elsewhere": nodes + datagram(CONSOLE, artdmx(0x0020, b"\xff" * 10)) + LOOK,
        "cable-out": nodes + show(255) + b"\4\1" + show(0) + ms(100) + b"\4\0" + show(255) + ms(200) + LOOK,
        "refused": nodes + show(255) + b"\5\0" + b"\5\1" + show(3) + ms(60) + LOOK,
        "overtaken": nodes + show(9, 200) + show(8, 190) + show(7, 1) + show(6, 255) + show(5, 1) + ms(50) + LOOK,
        "other-packets": nodes + b"".join(datagram(CONSOLE, packet(code, bytes(30))) for code in codes) + LOOK,
        "not-well-made": nodes + b"".join(datagram(CONSOLE, content) for content in odd) + LOOK,
    }


# --- floor files, sheets -------------------------------------------------------------------------


def floor_file():
    """Our own files, and the same with a fault of each kind."""
    seeds = {"small": FLOOR}
    page = (HERE.parent / "docs/floor-file.md").read_text()
    blocks = re.findall(r"```toml\n(.*?)```", page, re.S)
    seeds |= {f"page-{at:02}": block for at, block in enumerate(blocks)}
    for name in ["first-floor", "demo"]:
        seeds[name] = (HERE.parent / f"config/{name}.toml").read_text()
    changes = {
        "decimal-comma": ("margin = 0.8", "margin = 0,8"),
        "curly-quotes": ('slots = "RGB"', "slots = “RGB”"),
        "unknown-key": ("fuse_a = 3\n", "fuse_a = 3\nfuze = 1\n"),
        "patched-twice": ('["A1", "B1"]', '["A1", "A1"]'),
        "outside": ('["A1", "B1"]', '["A1", "Z99"]'),
        "overlap": ('start = "0:0:2"', 'start = "0:0:1"'),
        "past-the-last": ('start = "0:1:0"\n', 'start = "127:15:15"\nslot = 500\n'),
        "turned": ('turn = 180', 'turn = 45'),
        "bracket": ("[[run]]", "[[run]"),
        "number-as-text": ("rated_a = 16", 'rated_a = "16"'),
        "no-such-node": ('node = "south"\nport', 'node = "west"\nport'),
        "nan": ("rated_a = 16", "rated_a = nan"),
        "huge": ("rated_a = 16", "rated_a = 1e308"),
        "negative": ("idle_ma = 1", "idle_ma = -1"),
        "many": ("columns = 3\nrows = 2\npanel_mm", "columns = 702\nrows = 9999\npanel_mm"),
        "control": ('name = "main"', 'name = "ma\\u001b[2Jin"'),
        "letters": ('name = "Made up"', 'name = "Tanzfläche ☂ \u202e"'),
        "dates": ("margin = 0.8", "margin = 1979-05-27T07:32:00Z"),
    }
    for name, (was, becomes) in changes.items():
        assert was in FLOOR, name
        seeds[name] = FLOOR.replace(was, becomes, 1)
    seeds["windows"] = FLOOR.replace("\n", "\r\n")
    seeds["mark"] = "\ufeff" + FLOOR
    seeds["empty"] = "\n"
    seeds["cut"] = FLOOR[: len(FLOOR) // 2]
    return seeds


def sheet():
    flat, alike = b"\0", b"\2"
    rows = "Position,Universe,Slot,Node,Port,Serial,Turn,Mirrored\n"
    both = "panel;start address;output\nA1;0:0:1/1;1\nB1;0:0:1/61;1\n"
    return {
        "floor": flat + (rows + "A1,1,1,north,1,M1,0,no\nB1,1,61,north,1,M2,90,yes\nC2,16,49,south,1,M3,270,no\n").encode(),
        "alike": alike + b"position,universe,channel\nA1,0,1\nA2,0,61\nB1,1,1\n",
        "from-one": b"\3" + b"position,universe,channel\nA1,1,1\nA2,1,61\n",
        "both": alike + both.encode(),
        "tabs": alike + both.replace(";", "\t").encode(),
        "sep": alike + b"sep=|\nposition|universe|slot\nA1|0|1\n",
        "quoted": alike + b'"position","universe","slot","a\nremark"\n"A1","0","1","x,""y"""\n',
        "formulas": alike + b"position,universe,slot,serial\nA1,=1+1,1,'=M1\nA2,0,61,-M2\n",
        "mark": alike + b"\xef\xbb\xbfposition,universe,slot\r\nA1,0,1\r\n",
        "old-mac": alike + b"position,universe,slot\rA1,0,1\r",
        "utf16": alike + "position,universe,slot\nA1,0,1\n".encode("utf-16"),
        "latin": alike + "position,universe,slot,Ger\xe4t\nA1,0,1,x\n".encode("latin-1"),
        "doubles": alike + b"position,universe,slot,serial\nA1,0,1,M1\nA1,0,61,M1\nB1,0,30,M2\n",
        "gaps": alike + b"position,universe,slot,node,port\nA1,0,1,n,1\nA2,0,400,n,1\nA3,9,1,n,1\n",
        "times": alike + b"position,universe,slot\nA1,00:00:01,1\nA2,12:00:03 AM,1\n",
        "degrees": alike + "position,universe,slot,turn,packing\nA1,0,1.0,90°,whole-pixel\nA2,0,61,45,packed\n".encode(),
        "wrong": alike + b"position,universe,slot\nZ0,70000,513\n,,\nA1,x,y\n",
        "no-columns": alike + b"who,what\n1,2\n",
        "control": alike + b"position,universe,slot,serial\n\x1b[2J,0,1,\x07\n",
        "wide": b"\6" + b"position,universe,slot\nA1,32767,500\n",
    }


# --- readings ------------------------------------------------------------------------------------


def readings():
    def body(value):
        text = value.encode() if isinstance(value, str) else json.dumps(value).encode()
        return b"\0" + struct.pack("<H", len(text)) + text

    def payload(sensor, text):
        text = text if isinstance(text, bytes) else text.encode()
        return bytes([1, sensor]) + struct.pack("<H", len(text)) + text

    def said(*values):
        return body({"readings": [{"sensor": name, "value": value} for name, value in values]})

    def picture(level):
        return bytes([2, level])

    def tenths(count):
        return bytes([3, count])

    good = b"".join(picture(120) + said(("clamp", 3.2), ("shunt", 2.1)) + tenths(10) for _ in range(14))
    more = b"".join(picture(200) + said(("clamp", 9.5 + at / 100)) + tenths(10) for at in range(16))
    return {
        "good": good,
        "more-is-measured": more,
        "less-is-measured": b"".join(picture(200) + said(("clamp", 0.2 + at / 100)) + tenths(10) for at in range(16)),
        "absurd": picture(99) + said(("clamp", 1e308), ("clamp", -1e308), ("far corner", -40)) + tenths(5),
        "unknown": said(("nobody", 1), ("clamp", 0)),
        "frozen": b"".join(picture(20 * at) + said(("clamp", 3.25)) + tenths(10) for at in range(12)),
        "not-json": body("{") + body("") + body("[]") + body('{"readings": 3}') + body('{"readings": [], "x": 1}'),
        "numbers": body('{"readings": [{"sensor": "clamp", "value": 1e999}, {"sensor": "clamp", "value": -0}]}'),
        "deep": body("[" * 200 + "]" * 200),
        "letters": body('{"readings": [{"sensor": "cl\\u0000amp\\ud83d", "value": 1}]}'),
        "many": body({"readings": [{"sensor": "clamp", "value": at} for at in range(1001)]}),
        "broker": picture(90) + payload(0, "12.5") + tenths(10) + payload(1, '{"milliamps": "2100"}') + tenths(10),
        "broker-odd": b"".join(payload(at % 3, text) for at, text in enumerate(
            [b"", b"on", b"nan", b"inf", b"-inf", b"1e400", b"\xff", b"{}", b'{"value": null}', b'{"milliamps": {}}', b" 7\n"])),
        "voltage": picture(200) + said(("far corner", 11.2)) + tenths(10) + said(("far corner", 4)) + tenths(10),
    }


# --- api -----------------------------------------------------------------------------------------


def api():
    def ask(method, path, body=None, *headers):
        lines = [f"{method} {path}", *headers]
        text = "" if body is None else body if isinstance(body, str) else json.dumps(body)
        return "\n".join(lines) + "\n\n" + text

    def many(*asked):
        return "\x1e".join(asked)

    v1 = "/api/v1"
    source = (HERE.parent / "src/web/mod.rs").read_text()
    paths = sorted(set(re.findall(r'"(/api/v1/[^"]*|/healthz)"', source)))
    assert len(paths) > 40, "the routes are no longer listed there"
    reads = {f"get{path.replace('/', '-')}".replace("{", "").replace("}", ""): ask("GET", re.sub(r"\{\w+\}", "M1", path))
             for path in paths}
    patterns = [
        {"kind": "all"}, {"kind": "panel", "position": "A1"}, {"kind": "mark", "position": "B1"},
        {"kind": "segment", "position": "A1", "segment": 1}, {"kind": "pixel", "position": "C1", "pixel": 3},
        {"kind": "walk", "run": 0, "pace": {"auto": {"step_ms": 500}}}, {"kind": "run", "run": 1},
        {"kind": "universe", "port_address": "0:0:2"}, {"kind": "node", "node": "south"}, {"kind": "row", "row": 2},
        {"kind": "column", "column": "C"}, {"kind": "colours"}, {"kind": "labels"}, {"kind": "joints"},
    ]
    start = [ask("POST", f"{v1}/pattern", {"pattern": pattern, "level": 200, "colour": "red", "lasts_s": 9})
             for pattern in patterns]
    who = {"who": "Ida"}
    seeds = reads | {
        "patterns": many(*start[:7]),
        "patterns-2": many(*start[7:], ask("POST", f"{v1}/pattern/step", {"by": -1}), ask("DELETE", f"{v1}/pattern")),
        "cover": ask("POST", f"{v1}/pattern", {"pattern": {"kind": "all"}, "cover": {"panels": ["A1", "C2"]}, "ends_with": "x"}),
        "limit": many(*(ask("PUT", f"{v1}/limit", {"floor_va": value}) for value in [30, 0, None, 4294967295])),
        "survey": many(ask("POST", f"{v1}/survey", {"by": "eyes", "positions": ["A1"], "level": 9, "weak": True}),
                       ask("POST", f"{v1}/survey/seen", {"number": 1, "dark": [{"position": "A1", "segment": 1}]}),
                       ask("POST", f"{v1}/survey/undo", {"number": 1}), ask("DELETE", f"{v1}/survey")),
        "stepping": many(ask("POST", f"{v1}/stepping", {"level": 90}),
                         ask("POST", f"{v1}/stepping/answer", {"number": 0, "answer": {"lit": {"position": "A1", "turn_deg": 0, "mirrored": False}}}),
                         ask("POST", f"{v1}/stepping/light", {}), ask("POST", f"{v1}/stepping/answer", {"number": 0, "answer": "dark"}),
                         ask("POST", f"{v1}/stepping/undo", {"number": 1}), ask("GET", f"{v1}/stepping/corrected.toml"),
                         ask("DELETE", f"{v1}/stepping")),
        "book": many(ask("POST", f"{v1}/book/placed", {"serial": "M9", "position": "A1"} | who),
                     ask("POST", f"{v1}/book/panels/M9/notes", {"text": "a plug"} | who),
                     ask("POST", f"{v1}/book/panels/M9/bench", {"passed": True, "note": "", "signature": {"white_a": 1.2}} | who),
                     ask("POST", f"{v1}/book/faults", {"serial": "M9", "text": "cracked"} | who),
                     ask("POST", f"{v1}/book/faults/1", {"state": "being_repaired"} | who),
                     ask("GET", f"{v1}/book/panels/M9"), ask("GET", f"{v1}/book/checklist"), ask("GET", f"{v1}/book/diff"),
                     ask("GET", f"{v1}/book/floor.toml"), ask("GET", f"{v1}/book/export.csv"),
                     ask("DELETE", f"{v1}/book/placed/A1")),
        "reports": many(ask("POST", f"{v1}/reports", {"position": "A1", "segment": 1, "says": "dark"}),
                        ask("DELETE", f"{v1}/evidence/1")),
        "history": many(ask("GET", f"{v1}/history?element=supply:main&from=1795771000&to=1795771800&points=20"),
                        ask("GET", f"{v1}/history.csv?from=2026-11-27T20:00:00Z"), ask("GET", f"{v1}/history?points=0&from=-1"),
                        ask("GET", f"{v1}/energy?from=9223372036854775807")),
        "labels": many(ask("GET", f"{v1}/labels/M1.svg?at=http://192.168.1.20:8080&text=true"),
                       ask("GET", f"{v1}/labels/M1.svg?at=javascript:x"), ask("GET", f"{v1}/labels/..%2F.svg?at=http://x")),
        "session": many(ask("POST", f"{v1}/session", {"passphrase": "a b c d"}), ask("DELETE", f"{v1}/session"),
                        ask("GET", f"{v1}/session", None, "cookie: litfloor_session=0000; a=b")),
        "passphrase": many(ask("PUT", f"{v1}/passphrase", {"passphrase": "floor of the night"}),
                           ask("POST", f"{v1}/session", {"passphrase": "floor of the night"}, "origin: http://127.0.0.1:8080")),
        "calibrate": many(ask("POST", f"{v1}/calibration", {"floor_is_clear": True}), ask("DELETE", f"{v1}/calibration")),
        "readings": many(ask("POST", f"{v1}/readings", {"readings": [{"sensor": "clamp", "value": 1}]},
                             "authorization: Bearer a token of the fuzzer"), ask("POST", f"{v1}/readings/token", None)),
        "simulation": ask("POST", f"{v1}/simulation", {"position": "A1", "segment": 1, "fault": "supply_open"}),
        "reload": ask("POST", f"{v1}/floor/reload"),
        "strangers": many(*(ask(method, f"{v1}{path}", {}, "!\x07") for method, path in [
            ("POST", "/pattern"), ("PUT", "/limit"), ("DELETE", "/pattern"), ("POST", "/floor/reload"), ("PUT", "/passphrase")])),
        "other-pages": many(*(ask("DELETE", f"{v1}/pattern", None, header) for header in [
            "origin: http://elsewhere.example", "sec-fetch-site: cross-site", "host: elsewhere.example", "origin: null",
            "host: 127.0.0.1:8080", "x-forwarded-for: 127.0.0.1"])),
        "kinds": many(*(ask("POST", f"{v1}/limit", '{"floor_va": 1}', header) for header in [
            "content-type: text/plain", "content-type: application/json; charset=utf-8", "content-length: 9",
            "transfer-encoding: chunked", "accept-encoding: gzip"])),
        "no-such": many(ask("GET", "/api"), ask("BREW", "/api/v1/state"), ask("GET", "/"), ask("GET", "/api/v1/%ff%00"),
                        ask("OPTIONS", "*"), ask("GET", "http://elsewhere.example/api/v1/state")),
        "deep": ask("POST", f"{v1}/pattern", "[" * 300),
        "live": ask("GET", f"{v1}/live", None, "connection: upgrade", "upgrade: websocket",
                    "sec-websocket-version: 13", "sec-websocket-key: AAAAAAAAAAAAAAAAAAAAAA=="),
    }
    return seeds


# --- live ----------------------------------------------------------------------------------------


def live():
    def text(value):
        content = (value if isinstance(value, str) else json.dumps(value)).encode()
        return b"\0" + struct.pack("<H", len(content)) + content

    def other(which, content=b""):
        return bytes([1, which]) + struct.pack("<H", len(content)) + content

    def raw(content):
        return b"\2" + struct.pack("<H", len(content)) + content

    def picture(level):
        return bytes([3, level])

    def twentieths(count):
        return bytes([4, count])

    floor, take = b"\5", b"\6"
    film = b"".join(picture(20 * at % 256) + twentieths(1) + take for at in range(10))
    return {
        "looks": film,
        "both": text({"view": "asked", "max_fps": 30, "also_fps": 5}) + film,
        "deltas": text({"deltas": True}) + film + floor + film,
        "none": text({"view": "none"}) + film + text({"view": "sent"}) + film,
        "slots": text({"slots": ["0:0:1", "0:1:0", "3"], "reference": "first_pixels"}) + film
        + text({"slots": [], "reference": "all"}) + film,
        "voltages": text({"voltages": True}) + film + text({"voltages": False}) + film,
        "me": text({"me": ""}) + take + text({"me": "0" * 32}) + take,
        "rates": b"".join(text({"max_fps": value, "also_fps": value}) + film[:12] for value in [0, -1, 1e308, 0.001, 1000]),
        "not-understood": text("{") + text("[]") + text("null") + text({"view": 7}) + text("[" * 300) + take,
        "long": text({"me": "x" * 3000}) + text({"slots": ["0:0:1"] * 300}) + take,
        "too-long": text({"me": "x" * 5000}) + take,
        "pings": other(1, b"hello") + other(2, b"") + other(0, b"bytes") + take,
        "closes": other(3) + take,
        "takes-nothing": b"".join(picture(at) + twentieths(20) for at in range(16)),
        "silent": twentieths(255) + twentieths(255) + take,
        "not-masked": raw(b"\x81\x02{}") + take,
        "fragments": raw(b"\x01\x81\0\0\0\0{") + raw(b"\x80\x81\0\0\0\0}") + take,
        "reserved": raw(b"\xf1\x80\0\0\0\0") + take,
        "huge": raw(b"\x81\xff\x7f\xff\xff\xff\xff\xff\xff\xff\0\0\0\0") + take,
        "reloads": (floor + take) * 6 + film,
    }


def text_of(seeds):
    return [seed.decode("latin-1") if isinstance(seed, bytes) else seed for seed in seeds.values()]


all_seeds = {name: make() for name, make in {
    "artnet": artnet, "floor_file": floor_file, "sheet": sheet, "readings": readings, "api": api, "live": live,
}.items()}
for name, seeds in all_seeds.items():
    write(name, seeds)
# The page of the floor file has every key there is; of its prose only what stands in backquotes.
page = (HERE.parent / "docs/floor-file.md").read_text()
words("floor_file", [FLOOR, *re.findall(r"`([^`]*)`", page)], ["[[run]]", "[[node]]", "0:0:1", "A1..B2", "= {", "= ["])
words("sheet", text_of(all_seeds["sheet"]), [";", "sep=", "0:0:1/61"])
words("readings", [], ["readings", "sensor", "value", "clamp", "shunt", "far corner", "milliamps", "1e308", "nan", "null"])
words("api", text_of(all_seeds["api"]), ["/api/v1/", "true", "null", "\\x1e", "!\\x07", "-1", "4294967296"])
words("live", text_of(all_seeds["live"]), ["0:0:1", "true", "null", "asked", "sent", "none"])
words("artnet", [], ["Art-Net\\x00\\x00\\x50\\x00\\x0e", "Art-Net\\x00\\x00\\x21", "Art-Net\\x00\\x00\\x20\\x00\\x0e"])
