//! One fault each along a run: its code, and the edits that bring it.

use super::faults::Edits;

/// The fault, once for each mark, and nothing else told.
pub(super) const ALONG_RUNS: &[(&str, Edits)] = &[
    // What lies where along a run.
    (
        "out-of-range",
        &[("{ at = \"B1\", turn = 90 }", "{ at = \"B1\", turn = ‹45 }")],
    ),
    (
        "needless-key",
        &[(
            "{ at = \"B1\", turn = 90 }",
            "{ at = \"B1\", turn_back = ‹180 }",
        )],
    ),
    (
        "needless-key",
        &[(
            "[\"A1\", {",
            "[{ unused_pixels = 1, turn = ‹90 }, \"A1\", {",
        )],
    ),
    (
        "needless-key",
        &[(
            "{ at = \"B1\", turn = 90 }",
            "{ at = \"B1\", spare_slots = ‹3 }",
        )],
    ),
    (
        "needless-key",
        &[(
            "panels = [\"A2\"]",
            "panels = [\"A2\", ‹{ spare_slots = 3 }]",
        )],
    ),
    (
        "missing-key",
        &[("[\"A1\", {", "[‹{ mirrored = true }, \"A1\", {")],
    ),
    (
        "unknown-word",
        &[(
            "start = \"0:0:2\"",
            "start = \"0:0:2\"\npacking = ‹\"pack\"",
        )],
    ),
    (
        "unused-apart",
        &[(
            "[\"A1\", {",
            "[{ unused_pixels = 1 }, { spare_slots = 1 }, ‹{ unused_pixels = 1 }, \"A1\", {",
        )],
    ),
    // Where the console's slots lie.
    (
        "shared-source",
        &[(
            "start = \"0:0:2\"",
            "start = \"0:0:2\"\nsource = ‹\"0:0:1\"",
        )],
    ),
    (
        "shared-source",
        &[("start = \"0:0:2\"", "start = ‹\"0:0:1\"")],
    ),
    (
        "nothing-before",
        &[("start = \"0:0:1\"", "start = \"0:0:1\"\nsource = ‹\"next\"")],
    ),
    (
        "needless-key",
        &[(
            "start = \"0:0:2\"",
            "start = \"0:0:2\"\nsource = { start = \"next\", slot = ‹7 }",
        )],
    ),
    (
        "past-last-universe",
        &[(
            "start = \"0:0:1\"",
            "start = \"0:0:1\"\nsource = { start = ‹\"127:15:15\", slot = 500 }",
        )],
    ),
    (
        "past-last-universe",
        &[(
            "start = \"0:0:1\"\npanels = [\"A1\", { at = \"B1\", turn = 90 }]",
            "start = ‹\"127:15:15\"\npanels = [\"A1\", \"B1\"]\nsplit = { panels = 1, universes = 1 }",
        )],
    ),
    // Serials.
    (
        "bad-serial",
        &[(
            "panels = [\"A2\"]",
            "panels = [\"A2\"]\nserials = [‹\"P 1\"]",
        )],
    ),
    (
        "serial-count",
        &[(
            "panels = [\"A2\"]",
            "panels = [\"A2\"]\nserials = ‹[\"P1..P2\"]",
        )],
    ),
    (
        "duplicate-serial",
        &[
            ("turn = 90 }]", "turn = 90 }]\nserials = [\"P1\", \"P2\"]"),
            (
                "panels = [\"A2\"]",
                "panels = [\"A2\"]\nserials = [‹\"P2\"]",
            ),
        ],
    ),
];
