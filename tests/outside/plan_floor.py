"""A floor file read with tomllib, and its currents and voltages by numpy: the other side of test_plan.py."""

import re
import tomllib

import numpy

CLASS_5 = {0.5: 39.0, 0.75: 26.0, 1: 19.5, 1.5: 13.3, 2.5: 7.98, 4: 4.95, 6: 3.30, 10: 1.91, 16: 1.21}
COLOURS = ["red", "green", "blue"]


def column(letters):
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number - 1


def place(text):
    letters, row = re.fullmatch(r"([A-Z]+)([0-9]+)", text).groups()
    return column(letters), int(row) - 1


def walked(texts):
    """`["A1", "B2..C3"]` by rows, from the first end to the second."""
    for text in texts:
        first, _, last = text.partition("..")
        (c0, r0), (c1, r1) = place(first), place(last or first)
        for row in range(r0, r1 + 1) if r0 <= r1 else range(r0, r1 - 1, -1):
            for col in range(c0, c1 + 1) if c0 <= c1 else range(c0, c1 - 1, -1):
                yield col, row


def numbered(items):
    """Those with a count are so many, called NAME 1, NAME 2, ..."""
    for item in items:
        for number in range(1, item.get("count", 0) + 1) or [None]:
            yield item, number, item["name"] if number is None else f"{item['name']} {number}"


def conductor_ohm(cable, celsius):
    """Out and back."""
    if cable is None:
        return 0.0
    if "awg" in cable:
        diameter_mm = 0.127 * 92 ** ((36 - cable["awg"]) / 39)
        per_m = 0.017241 / (numpy.pi / 4 * diameter_mm**2)
    else:
        per_m = CLASS_5[cable["mm2"]] / 1000
    return 2 * cable["length_m"] * per_m * warmer(celsius)


def warmer(celsius):
    return 1 + 0.00393 * (celsius - 20)


class Floor:
    def __init__(self, text):
        file = self.file = tomllib.loads(text)
        self.copper_c = file.get("plan", {}).get("copper_c", 60)
        empty = set(walked(file["grid"].get("empty", [])))
        own = {at: name for name, kind in file["panel"].items() for at in walked(kind.get("at", []))}
        self.circuits = {name: item for item, _, name in numbered(file["circuit"])}
        self.supplies = {}
        for item, number, name in numbered(file["supply"]):
            per = item.get("per_circuit")
            circuit = f"{item['circuit']} {(number - 1) // per + 1}" if per else item["circuit"]
            self.supplies[name] = {**item, "circuit": circuit}
        self.feeds = {}
        for feed in file["feed"]:
            kinds = [own.get(at, file["grid"].get("panel")) for at in walked(feed["positions"]) if at not in empty]
            split = feed.get("split")
            if not split:
                self.feeds[feed["name"]] = {**feed, "kinds": kinds}
                continue
            for at, first in enumerate(range(0, len(kinds), split["panels"])):
                per = split.get("per_supply")
                supply = f"{feed['supply']} {at // per + 1}" if per else feed["supply"]
                kinds_here = kinds[first : first + split["panels"]]
                self.feeds[f"{feed['name']} {at + 1}"] = {**feed, "supply": supply, "kinds": kinds_here}

    def kind(self, name):
        """Pixels of a kind of panel, and its kind of pixel."""
        kind = self.file["panel"][name]
        count = len(kind["pixels_mm"]) if "pixels_mm" in kind else kind["columns"] * kind["rows"]
        return kind, count, self.file["pixel"][kind["pixel"]]

    def pixel_amperes(self, name, level):
        _, _, pixel = self.kind(name)
        return numpy.dot(level, [pixel["full_ma"][colour] for colour in COLOURS]) / 1000

    def feed_amperes(self, level):
        def panel(name):
            _, count, pixel = self.kind(name)
            return count * (pixel["idle_ma"] / 1000 + self.pixel_amperes(name, level))

        return {name: sum(map(panel, feed["kinds"])) for name, feed in self.feeds.items()}

    def above(self, feeds, mains_volts=None):
        supplies = dict.fromkeys(self.supplies, 0.0)
        for name, amperes in feeds.items():
            supplies[self.feeds[name]["supply"]] += amperes
        circuits = dict.fromkeys(self.circuits, 0.0)
        for name, amperes in supplies.items():
            supply = self.supplies[name]
            volts = mains_volts or self.circuits[supply["circuit"]]["volts"]
            watts = amperes * supply["volts"]
            circuits[supply["circuit"]] += watts / (volts * supply["power_factor"] * supply["efficiency"])
        return supplies, circuits

    def short(self, feed):
        supply = self.supplies[self.feeds[feed]["supply"]]
        return supply["volts"], supply.get("short_a", supply["rated_a"])

    def longest_way_ohm(self, name, celsius):
        """The example floors have no second cable."""
        feed = self.feeds[name]
        assert "far_cable" not in feed
        cable, link = (conductor_ohm(feed.get(key), celsius) for key in ["cable", "link"])
        tails = [conductor_ohm(self.kind(kind)[0].get("tail"), celsius) for kind in feed["kinds"]]
        return max(cable + at * link + tail for at, tail in enumerate(tails))

    def pitches_mm(self, name):
        """Lengths of strip before, between and behind the pixels; rows first, to and fro or not."""
        kind, count, _ = self.kind(name)
        pitch = kind["strip"].get("pitch_mm")
        if pitch:
            return numpy.full(count + 1, float(pitch))
        columns, rows = kind["columns"], kind["rows"]
        width, height = numpy.array(self.file["grid"]["panel_mm"]) / (columns, rows)
        wiring = kind.get("wiring", {})
        assert wiring.get("first", "rows") == "rows"
        serpentine = wiring.get("path") == "serpentine"
        x = numpy.tile(numpy.arange(columns), (rows, 1))
        if serpentine:
            x[1::2] = x[1::2, ::-1]
        centres = numpy.stack([x.ravel() * width, numpy.repeat(numpy.arange(rows), columns) * height], axis=1)
        between = numpy.linalg.norm(numpy.diff(centres, axis=0), axis=1)
        return numpy.concatenate([between[:1], between, between[-1:]])

    def voltages(self, name, share):
        """Lowest pixel and far end of the cable: node voltages of one dense system, loads iterated."""
        feed = self.feeds[name]
        volts = self.supplies[feed["supply"]]["volts"]
        wires, loads = [], []
        nodes = 1

        def hang(at, ohm):
            nonlocal nodes
            if ohm == 0:
                return at
            wires.append((at, nodes, 1 / ohm))
            nodes += 1
            return nodes - 1

        cable_end = here = hang(0, conductor_ohm(feed.get("cable"), self.copper_c))
        for at, kind_name in enumerate(feed["kinds"]):
            kind, count, pixel = self.kind(kind_name)
            if at and "link" in feed:
                here = hang(here, conductor_ohm(feed["link"], self.copper_c))
            enters = hang(here, conductor_ohm(kind.get("tail"), self.copper_c))
            per_mm = 2 * kind["strip"]["ohm_per_m"] / 1000 * warmer(self.copper_c)
            pieces = self.pitches_mm(kind_name) * per_mm
            fed = kind["strip"].get("fed", "start")
            assert fed in ("start", "both")
            on_strip = enters
            for pixel_at in range(count):
                on_strip = hang(on_strip, pieces[pixel_at])
                loads.append((on_strip, share * self.pixel_amperes(kind_name, (1, 1, 1)), pixel))
            if fed == "both":
                wires.append((on_strip, enters, 1 / pieces[count]))
        matrix = numpy.zeros((nodes, nodes))
        for one, other, siemens in wires:
            matrix[[one, other], [one, other]] += siemens
            matrix[[one, other], [other, one]] -= siemens
        places = numpy.array([load[0] for load in loads])
        full = numpy.array([load[1] for load in loads])
        nominal = numpy.array([load[2]["volts"] for load in loads], dtype=float)
        idle = numpy.array([load[2]["idle_ma"] / 1000 for load in loads])
        dark = numpy.array([load[2].get("dark_volts", 0.0) for load in loads])
        bright = numpy.array([load[2].get("full_volts", dark + 0.5) for load, dark in zip(loads, dark)])
        inverse = numpy.linalg.inv(matrix[1:, 1:])
        from_supply = -matrix[1:, 0] * volts
        found = numpy.full(nodes, float(volts))
        for _ in range(4000):
            here_v = found[places]
            amperes = full * numpy.clip((here_v - dark) / (bright - dark), 0, 1) + idle * here_v / nominal
            drawn = numpy.zeros(nodes)
            numpy.add.at(drawn, places, amperes)
            newer = inverse @ (from_supply - drawn[1:])
            change = numpy.abs(newer - found[1:]).max()
            # Half a step: undamped iteration swings about the knee.
            found[1:] += 0.5 * (newer - found[1:])
            if change < 1e-9:
                break
        else:
            raise AssertionError(f"{name}: no voltages found")
        return found[places].min(), found[cable_end]
