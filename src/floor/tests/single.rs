//! One fault each: its code, and the edits that bring it.

use super::faults::Edits;

/// The fault, once for each mark, and nothing else told.
pub(super) const SINGLE: &[(&str, Edits)] = &[
    ("missing-key", &[("name = \"Base\"", "‹")]),
    ("wrong-type", &[("name = \"Base\"", "name = ‹5")]),
    ("bad-name", &[("name = \"Base\"", "name = ‹\"\"")]),
    ("bad-name", &[("name = \"Base\"", "name = ‹\"a\\u001b\"")]),
    (
        "unknown-key",
        &[("rows = 2\npanel", "rows = 2\n‹colums = 2\npanel")],
    ),
    (
        "unknown-key",
        &[("name = \"Base\"", "name = \"Base\"\n[‹gird]\nx = 1")],
    ),
    ("missing-key", &[("[grid]\ncolumns = 2", "‹[grid]")]),
    (
        "out-of-range",
        &[("[grid]\ncolumns = 2", "[grid]\ncolumns = ‹0")],
    ),
    (
        "out-of-range",
        &[("[grid]\ncolumns = 2", "[grid]\ncolumns = ‹703")],
    ),
    (
        "out-of-range",
        &[(
            "[grid]\ncolumns = 2",
            "[grid]\ncolumns = ‹99999999999999999999",
        )],
    ),
    (
        "wrong-count",
        &[("panel_mm = [400, 400]", "panel_mm = ‹[400]")],
    ),
    (
        "out-of-range",
        &[("panel_mm = [400, 400]", "panel_mm = [400, ‹-1]")],
    ),
    (
        "out-of-range",
        &[("panel_mm = [400, 400]", "panel_mm = [400, ‹nan]")],
    ),
    (
        "bad-position",
        &[("empty = [\"B2\"]", "empty = [\"B2\", ‹\"2B\"]")],
    ),
    (
        "outside-grid",
        &[("empty = [\"B2\"]", "empty = [\"B2\", ‹\"C1\"]")],
    ),
    (
        "unknown-name",
        &[("panel = \"square\"", "panel = ‹\"sqare\"")],
    ),
    ("unknown-word", &[("merge = \"htp\"", "merge = ‹\"htpp\"")]),
    (
        "needless-key",
        &[(
            "when_lost = \"fade\"\nfade_s = 2",
            "when_lost = \"hold\"\nfade_s = ‹2",
        )],
    ),
    ("out-of-range", &[("copies = 3", "copies = ‹11")]),
    ("wrong-type", &[("copies = 3", "copies = ‹3.0")]),
    ("out-of-range", &[("[cap]", "[machine]\ncore = ‹-1\n[cap]")]),
    (
        "out-of-range",
        &[("[cap]", "[machine]\ncore = ‹1024\n[cap]")],
    ),
    (
        "out-of-range",
        &[("[cap]", "[machine]\nreal_time_priority = ‹0\n[cap]")],
    ),
    (
        "out-of-range",
        &[("[cap]", "[machine]\nreal_time_priority = ‹50\n[cap]")],
    ),
    ("unknown-key", &[("[cap]", "[machine]\n‹cores = 1\n[cap]")]),
    ("out-of-range", &[("margin = 0.8", "margin = ‹1.01")]),
    ("out-of-range", &[("margin = 0.8", "margin = ‹0")]),
    ("out-of-range", &[("margin = 0.8", "floor_va = ‹0")]),
    (
        "out-of-range",
        &[("[cap]", "[plan]\ntypical = ‹1.1\n[cap]")],
    ),
    (
        "out-of-range",
        &[("[cap]", "[alarm]\nnear_percent = ‹5\n[cap]")],
    ),
    (
        "bad-address",
        &[(
            "[cap]",
            "[alarm]\nwebhook = ‹\"https://example.org/\"\n[cap]",
        )],
    ),
    (
        "unknown-word",
        &[(
            "idle_ma = 0\n[pixel.w",
            "idle_ma = 0\nload = ‹\"led\"\n[pixel.w",
        )],
    ),
    (
        "out-of-range",
        &[(
            "idle_ma = 0\n[pixel.w",
            "idle_ma = 0\nfull_volts = ‹12.5\n[pixel.w",
        )],
    ),
    (
        "volts-order",
        &[(
            "idle_ma = 0\n[pixel.w",
            "idle_ma = 0\ndark_volts = 9\nfull_volts = ‹9\n[pixel.w",
        )],
    ),
    (
        "volts-order",
        &[(
            "idle_ma = 0\n[pixel.w",
            "idle_ma = 0\ndark_volts = ‹12\n[pixel.w",
        )],
    ),
    (
        "needless-key",
        &[(
            "idle_ma = 0\n[pixel.w",
            "idle_ma = 0\nload = \"resistive\"\nfull_volts = ‹11\n[pixel.w",
        )],
    ),
    (
        "limit-below-idle",
        &[(
            "idle_ma = 0\n[pixel.w",
            "idle_ma = 2\nlimit_ma = ‹1\n[pixel.w",
        )],
    ),
    (
        "no-such-pixel",
        &[(
            "segments = [20, 20]",
            "strip = { ohm_per_m = 0.1, fed = ‹[1, 41] }",
        )],
    ),
    (
        "empty-list",
        &[(
            "segments = [20, 20]",
            "strip = { ohm_per_m = 0.1, fed = ‹[] }",
        )],
    ),
    (
        "missing-key",
        &[("segments = [20, 20]", "strip = ‹{ fed = \"both\" }")],
    ),
    (
        "one-of-two",
        &[("segments = [20, 20]", "tail = ‹{ length_m = 1 }")],
    ),
    (
        "one-of-two",
        &[(
            "segments = [20, 20]",
            "tail = ‹{ length_m = 1, mm2 = 1, awg = 14 }",
        )],
    ),
    (
        "missing-key",
        &[(
            "name = \"left\"",
            "name = \"left\"\nlink = ‹{ length_m = 1, mm2 = 1 }",
        )],
    ),
    (
        "missing-key",
        &[(
            "power_factor = 0.9",
            "power_factor = 0.9\npeak = ‹{ percent = 120 }",
        )],
    ),
    (
        "out-of-range",
        &[(
            "power_factor = 0.9",
            "power_factor = 0.9\npeak = { percent = ‹99, s = 1 }",
        )],
    ),
    (
        "slew-too-slow",
        &[(
            "power_factor = 0.9",
            "power_factor = 0.9\nslew_a_per_s = ‹0.2",
        )],
    ),
    (
        "unknown-word",
        &[(
            "power_factor = 0.9",
            "power_factor = 0.9\nsharing = ‹\"fair\"",
        )],
    ),
    ("bad-slots", &[("\"GRB\"", "‹\"GRR\"")]),
    ("bad-slots", &[("\"GRB\"", "‹\"GRBb\\u0000\"")]),
    ("bad-slots", &[("\"Ww\"", "‹\"w\"")]),
    (
        "colour-without-slot",
        &[(
            "full_ma = { white = 20 }",
            "full_ma = { white = 20, red = ‹20 }",
        )],
    ),
    (
        "colour-without-current",
        &[(
            "{ red = 20, green = 20, blue = 20 }",
            "‹{ red = 20, green = 20 }",
        )],
    ),
    ("too-fine", &[("{ white = 20 }", "{ white = ‹20.00005 }")]),
    (
        "out-of-range",
        &[("{ white = 20 }", "{ white = ‹10000.1 }")],
    ),
    (
        "unknown-name",
        &[(
            "[panel.edge]\npixel = \"rgb\"",
            "[panel.edge]\npixel = ‹\"rbg\"",
        )],
    ),
    (
        "segment-sum",
        &[("segments = [20, 20]", "segments = ‹[20, 21]")],
    ),
    ("pixel-outside-panel", &[("[390, 390]", "‹[390, 401]")]),
    (
        "needless-key",
        &[("pixels_mm =", "columns = ‹2\npixels_mm =")],
    ),
    ("unknown-word", &[("\"serpentine\"", "‹\"zigzag\"")]),
    (
        "missing-key",
        &[(
            "[panel.edge]\npixel = \"rgb\"\npixels_mm = [[10, 10], [390, 390]]",
            "[panel.‹edge]\npixel = \"rgb\"",
        )],
    ),
    ("bad-address", &[("\"10.0.0.1\"", "‹\"10.0.0\"")]),
    ("not-one-machine", &[("\"10.0.0.1\"", "‹\"0.0.0.0\"")]),
    ("not-one-machine", &[("\"10.0.0.1\"", "‹\"239.255.0.1\"")]),
    (
        "not-one-machine",
        &[("\"10.0.0.1\"", "‹\"255.255.255.255\"")],
    ),
    ("duplicate-address", &[("\"10.0.0.2\"", "‹\"10.0.0.1\"")]),
    (
        "unknown-name",
        &[("[[run]]\nnode = \"south\"", "[[run]]\nnode = ‹\"sout\"")],
    ),
    ("missing-key", &[("[[run]]\nnode = \"south\"", "‹[[run]]")]),
    (
        "duplicate-port",
        &[("node = \"south\"\nport = 1", "node = \"north\"\nport = ‹1")],
    ),
    ("bad-port-address", &[("\"0:0:2\"", "‹\"0:0:16\"")]),
    (
        "shared-slots",
        &[(
            "node = \"south\"\nport = 1\nstart = \"0:0:2\"",
            "node = \"north\"\nstart = ‹\"0:0:1\"\nslot = 126",
        )],
    ),
    (
        "past-last-universe",
        &[("start = \"0:0:2\"", "start = ‹\"127:15:15\"\nslot = 500")],
    ),
    (
        "empty-list",
        &[(
            "panels = [\"A2\"]",
            "panels = [\"A2\"]\n[[run]]\nnode = \"south\"\nstart = \"0:0:9\"\npanels = ‹[]",
        )],
    ),
    (
        "empty-position",
        &[("panels = [\"A2\"]", "panels = [‹\"A2..B2\"]")],
    ),
    (
        "in-two-runs",
        &[("panels = [\"A2\"]", "panels = [\"A2\", ‹\"A1\"]")],
    ),
    (
        "in-no-run",
        &[
            ("[grid]", "‹[grid]"),
            ("panels = [\"A1\", { at", "panels = [{ at"),
        ],
    ),
    (
        "outside-grid",
        &[("panels = [\"A2\"]", "panels = [‹\"A2..A3\"]")],
    ),
    ("out-of-range", &[("turn = 90", "turn = ‹45")]),
    (
        "turned-oblong",
        &[
            ("[400, 400]", "[400, 500]"),
            ("{ at = \"B1\"", "{ at = ‹\"B1\""),
        ],
    ),
    (
        "unknown-name",
        &[("circuit = \"mains\"", "circuit = ‹\"main\"")],
    ),
    ("out-of-range", &[("efficiency = 0.9", "efficiency = ‹1.1")]),
    (
        "out-of-range",
        &[("power_factor = 0.9", "power_factor = ‹0")],
    ),
    (
        "volts-differ",
        &[(
            "circuit = \"mains\"\nvolts = 12",
            "circuit = \"mains\"\nvolts = ‹24",
        )],
    ),
    (
        "in-no-feed",
        &[("[grid]", "‹[grid]"), ("\"A1..A2\", \"B1\"", "\"A1..A2\"")],
    ),
    (
        "in-two-feeds",
        &[(
            "\"A1..A2\", \"B1\"]",
            "\"A1..A2\", \"B1\"]\n[[feed]]\nname = \"two\"\nsupply = \"main\"\nfuse_a = 1\npositions = [‹\"A2\"]",
        )],
    ),
    (
        "two-kinds",
        &[
            ("segments = [20, 20]", "segments = [20, 20]\nat = [\"B1\"]"),
            ("at = [\"B1\"]\n[[node]]", "at = [‹\"B1\"]\n[[node]]"),
        ],
    ),
    (
        "no-kind",
        &[("[grid]", "‹[grid]"), ("panel = \"square\"\n", "")],
    ),
    (
        "duplicate-name",
        &[
            ("name = \"south\"", "name = ‹\"north\""),
            (
                "[[run]]\nnode = \"south\"\nport = 1",
                "[[run]]\nnode = \"north\"",
            ),
        ],
    ),
    (
        "node-without-nodes",
        &[
            (
                "[[node]]\nname = \"north\"\naddress = \"10.0.0.1\"\n[[node]]\nname = \"south\"\naddress = \"10.0.0.2\"\n[[run]]\nnode = \"north\"",
                "[[run]]\nnode = ‹\"north\"",
            ),
            ("[[run]]\nnode = \"south\"", "[[run]]"),
        ],
    ),
    (
        "no-panels",
        &[
            ("[grid]", "‹[grid]"),
            ("empty = [\"B2\"]", "empty = [\"A1..B2\"]"),
        ],
    ),
    (
        "too-many-panels",
        &[(
            "[grid]\ncolumns = 2\nrows = 2",
            "‹[grid]\ncolumns = 702\nrows = 9999",
        )],
    ),
    // The kind alone has too many, and so has the floor.
    (
        "too-many-pixels",
        &[
            ("[grid]", "‹[grid]"),
            ("columns = 5\nrows = 8", "columns = ‹2000\nrows = 1001"),
            ("segments = [20, 20]\n", ""),
        ],
    ),
    ("syntax", &[("copies = 3", "copies = ‹")]),
    (
        "duplicate-key",
        &[("copies = 3", "copies = 3\n‹copies = 4")],
    ),
    // Sensors and the broker.
    (
        "one-of-four",
        &[(
            "positions = [\"A1..A2\", \"B1\"]\n",
            "positions = [\"A1..A2\", \"B1\"]\n‹[[sensor]]\nname = \"a\"\n",
        )],
    ),
    (
        "one-of-four",
        &[(
            "positions = [\"A1..A2\", \"B1\"]\n",
            "positions = [\"A1..A2\", \"B1\"]\n‹[[sensor]]\nname = \"a\"\nsupply = \"main\"\nfeed = \"left\"\n",
        )],
    ),
    (
        "unknown-name",
        &[(
            "positions = [\"A1..A2\", \"B1\"]\n",
            "positions = [\"A1..A2\", \"B1\"]\n[[sensor]]\nname = \"a\"\nfeed = ‹\"lift\"\n",
        )],
    ),
    (
        "unknown-name",
        &[(
            "positions = [\"A1..A2\", \"B1\"]\n",
            "positions = [\"A1..A2\", \"B1\"]\n[[sensor]]\nname = \"a\"\ncircuit = ‹\"main\"\n",
        )],
    ),
    (
        "empty-position",
        &[(
            "positions = [\"A1..A2\", \"B1\"]\n",
            "positions = [\"A1..A2\", \"B1\"]\n[[sensor]]\nname = \"a\"\npanel = ‹\"B2\"\n",
        )],
    ),
    (
        "empty-position",
        &[(
            "positions = [\"A1..A2\", \"B1\"]\n",
            "positions = [\"A1..A2\", \"B1\"]\n[[sensor]]\nname = \"a\"\npanel = ‹\"Z9\"\n",
        )],
    ),
    (
        "bad-position",
        &[(
            "positions = [\"A1..A2\", \"B1\"]\n",
            "positions = [\"A1..A2\", \"B1\"]\n[[sensor]]\nname = \"a\"\npanel = ‹\"4C\"\n",
        )],
    ),
    (
        "duplicate-name",
        &[(
            "positions = [\"A1..A2\", \"B1\"]\n",
            "positions = [\"A1..A2\", \"B1\"]\n[[sensor]]\nname = \"a\"\nfeed = \"left\"\n[[sensor]]\nname = ‹\"a\"\nsupply = \"main\"\n",
        )],
    ),
    (
        "unknown-word",
        &[(
            "positions = [\"A1..A2\", \"B1\"]\n",
            "positions = [\"A1..A2\", \"B1\"]\n[[sensor]]\nname = \"a\"\nfeed = \"left\"\nquantity = ‹\"power\"\n",
        )],
    ),
    (
        "out-of-range",
        &[(
            "positions = [\"A1..A2\", \"B1\"]\n",
            "positions = [\"A1..A2\", \"B1\"]\n[[sensor]]\nname = \"a\"\nfeed = \"left\"\ntolerance_percent = ‹0\n",
        )],
    ),
    (
        "no-broker",
        &[(
            "positions = [\"A1..A2\", \"B1\"]\n",
            "positions = [\"A1..A2\", \"B1\"]\n‹[[sensor]]\nname = \"a\"\nfeed = \"left\"\ntopic = \"a\"\n",
        )],
    ),
    (
        "needless-key",
        &[(
            "positions = [\"A1..A2\", \"B1\"]\n",
            "positions = [\"A1..A2\", \"B1\"]\n[[sensor]]\nname = \"a\"\nfeed = \"left\"\nfield = ‹\"amps\"\n",
        )],
    ),
    (
        "bad-topic",
        &[(
            "positions = [\"A1..A2\", \"B1\"]\n",
            "positions = [\"A1..A2\", \"B1\"]\n[[sensor]]\nname = \"a\"\nfeed = \"left\"\ntopic = ‹\"a/#\"\n[mqtt]\nbroker = \"b\"\n",
        )],
    ),
    (
        "bad-broker",
        &[(
            "positions = [\"A1..A2\", \"B1\"]\n",
            "positions = [\"A1..A2\", \"B1\"]\n[mqtt]\nbroker = ‹\"b:x\"\n",
        )],
    ),
    // Several alike.
    (
        "unknown-name",
        &[
            ("rated_a = 16\n", "rated_a = 16\ncount = 2\n"),
            ("circuit = \"mains\"", "circuit = ‹\"mains\""),
        ],
    ),
    (
        "out-of-range",
        &[("rated_a = 16\n", "rated_a = 16\ncount = ‹0\n")],
    ),
    (
        "missing-key",
        &[(
            "positions = [\"A1..A2\", \"B1\"]",
            "positions = [\"A1..A2\", \"B1\"]\nsplit = ‹{ per_supply = 1 }",
        )],
    ),
];
