//! Whole reports of faulty files, as a terminal shows them. Read them as somebody would who stands
//! in a field at midnight: is it clear what to do?
//!
//! `WRITE_REPORTS=1 cargo test reports` writes what is told now; then read the difference.

use std::fs;
use std::path::{Path, PathBuf};

use super::super::parse;

const FIRST: &str = include_str!("../../../config/first-floor.toml");

/// The name of a report, and what was made wrong in the first floor: each text stands once.
type Faulty = (&'static str, &'static [(&'static str, &'static str)]);

const FAULTY: &[Faulty] = &[
    ("unknown-key", &[("rated_a = 10\n", "rated_amps = 10\n")]),
    (
        "missing-key",
        &[("columns = 2\nrows = 2\n", "columns = 2\n")],
    ),
    ("number-as-text", &[("fuse_a = 7.5", "fuse_a = \"7.5\"")]),
    (
        "decimal-comma",
        &[("efficiency = 0.85", "efficiency = 0,85")],
    ),
    ("curly-quotes", &[("\"First floor\"", "“First floor”")]),
    ("list-not-closed", &[("\"B2\", \"A2\"]", "\"B2\", \"A2\"")]),
    ("bracket-missing", &[("[[node]]\nname", "[[node]\nname")]),
    ("flat-universe", &[("start = \"0:0:1\"", "start = 1")]),
    (
        "universe-too-large",
        &[("start = \"0:0:1\"", "start = \"0:16:1\"")],
    ),
    (
        "slot-zero",
        &[("start = \"0:0:1\"", "slot = 0\nstart = \"0:0:1\"")],
    ),
    (
        "shared-slots",
        &[(
            "panels = [\"A1\", \"B1\", \"B2\", \"A2\"]",
            "panels = [\"A1\", \"B1\"]\n\n[[run]]\nnode = \"controller\"\nport = 2\nstart = \"0:0:1\"\nslot = 100\npanels = [\"B2\", \"A2\"]",
        )],
    ),
    (
        "two-runs-on-a-port",
        &[(
            "panels = [\"A1\", \"B1\", \"B2\", \"A2\"]",
            "panels = [\"A1\", \"B1\"]\n\n[[run]]\nnode = \"controller\"\nport = 1\nstart = \"0:0:2\"\npanels = [\"B2\", \"A2\"]",
        )],
    ),
    (
        "patched-twice",
        &[("\"B2\", \"A2\"]", "\"B2\", \"A2\", \"A1\"]")],
    ),
    ("patched-never", &[("\"B1\", \"B2\", \"A2\"]", "\"B1\"]")]),
    (
        "outside-the-grid",
        &[("\"B2\", \"A2\"]", "\"B2\", \"A2\", \"A9\"]")],
    ),
    (
        "on-no-feed",
        &[("positions = [\"A1..B2\"]", "positions = [\"A1..B1\"]")],
    ),
    (
        "past-the-last-universe",
        &[("start = \"0:0:1\"", "slot = 400\nstart = \"127:15:15\"")],
    ),
    (
        "serial-twice",
        &[(
            "\"B2\", \"A2\"]",
            "\"B2\", \"A2\"]\nserials = [\"P1..P3\", \"P2\"]",
        )],
    ),
    (
        "serials-too-few",
        &[("\"B2\", \"A2\"]", "\"B2\", \"A2\"]\nserials = [\"P1..P3\"]")],
    ),
    ("broadcast", &[("\"192.168.1.50\"", "\"255.255.255.255\"")]),
    ("no-address", &[("\"192.168.1.50\"", "\"192.168.1\"")]),
    (
        "address-twice",
        &[(
            "address = \"192.168.1.50\"",
            "address = \"192.168.1.50\"\n\n[[node]]\nname = \"other\"\naddress = \"192.168.1.50\"",
        )],
    ),
    (
        "unknown-node",
        &[("node = \"controller\"", "node = \"controler\"")],
    ),
    (
        "empty-position",
        &[("# empty = [\"B2\"]", "empty = [\"B2\"]")],
    ),
    ("segments", &[("[5, 5, 5, 5]", "[5, 5, 5]")]),
    (
        "volts-differ",
        &[("volts = 12\nrated_a = 10", "volts = 24\nrated_a = 10")],
    ),
    ("colours", &[("slots = \"GRB\"", "slots = \"GRBW\"")]),
    (
        "turn",
        &[("\"B2\", \"A2\"]", "{ at = \"B2\", turn = 45 }, \"A2\"]")],
    ),
    (
        "turn-of-an-oblong-panel",
        &[
            ("panel_mm = [500, 500]", "panel_mm = [500, 250]"),
            ("\"B2\", \"A2\"]", "{ at = \"B2\", turn = 90 }, \"A2\"]"),
        ],
    ),
    (
        "nothing-before",
        &[("start = \"0:0:1\"", "source = \"next\"\nstart = \"0:0:1\"")],
    ),
    (
        "switches-on-a-used-universe",
        &[
            ("rated_a = 7.5 ", "switches = 4\nrated_a = 7.5 "),
            (
                "[[circuit]]",
                "[[input]]\nnode = \"controller\"\nstart = \"0:0:1\"\npositions = [\"A1..B2\"]\n\n[[circuit]]",
            ),
        ],
    ),
    (
        "several-at-once",
        &[
            ("# empty = [\"B2\"]", "gap = 4"),
            ("node = \"controller\"", "node = \"controler\""),
            ("\"B2\", \"A2\"]", "\"B2\", \"C2\"]"),
            ("fuse_a = 7.5", "fuse_a = -7.5"),
        ],
    ),
];

fn faulty(edits: &[(&str, &str)]) -> String {
    let mut text = FIRST.to_owned();
    for (from, to) in edits {
        assert_eq!(text.matches(from).count(), 1, "{from:?} must stand once");
        text = text.replace(from, to);
    }
    text
}

fn place(name: &str) -> PathBuf {
    let reports = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/floor/tests/reports");
    reports.join(name).with_extension("txt")
}

#[test]
fn faulty_files_are_told_as_it_was_agreed() {
    assert!(FAULTY.len() >= 20);
    let mut texts: Vec<(&str, String)> = FAULTY
        .iter()
        .map(|(name, edits)| (*name, faulty(edits)))
        .collect();
    texts.push(("empty-file", String::new()));
    let mut differ = Vec::new();
    for (name, text) in texts {
        let told = match parse("floor.toml", &text) {
            Ok(_) => panic!("{name} must be refused"),
            Err(faults) => faults.render(false),
        };
        if std::env::var_os("WRITE_REPORTS").is_some() {
            fs::write(place(name), &told).unwrap();
        }
        let agreed = fs::read_to_string(place(name)).unwrap_or_default();
        if told != agreed {
            differ.push(format!("{name} is told so now:\n{told}"));
        }
    }
    assert!(differ.is_empty(), "{}", differ.join("\n"));
}
