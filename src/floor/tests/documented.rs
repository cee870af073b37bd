//! `docs/floor-file.md` has every key that the reader knows, no other, and only examples that can
//! be read.

use std::collections::BTreeSet;

use toml::de::DeTable;

use super::super::schema::{self, Section};
use super::super::sink::Sink;
use super::super::{defaults, read};
use super::sound::floor;
use crate::wire::PORT;

const PAGE: &str = include_str!("../../../docs/floor-file.md");

/// Under which heading the keys of each section stand.
const HEADINGS: [(&str, &Section); 30] = [
    ("## The file", &schema::FILE),
    ("## `[grid]`", &schema::GRID),
    ("## `[signal]`", &schema::SIGNAL),
    ("## `[delivery]`", &schema::DELIVERY),
    ("## `[cap]`", &schema::CAP),
    ("## `[plan]`", &schema::PLAN),
    ("## `[alarm]`", &schema::ALARM),
    ("## `[machine]`", &schema::MACHINE),
    ("## `[network]`", &schema::NETWORK),
    ("## `[[pin]]`", &schema::PIN),
    ("## `[standby]`", &schema::STANDBY),
    ("## `[pixel.NAME]`", &schema::PIXEL),
    ("### `full_ma`", &schema::FULL_MA),
    ("## `[panel.NAME]`", &schema::PANEL),
    ("### `wiring`", &schema::WIRING),
    ("### `strip`", &schema::STRIP),
    ("### Cables", &schema::CABLE),
    ("### `peak`", &schema::PEAK),
    ("## `[[node]]`", &schema::NODE),
    ("## `[[run]]`", &schema::RUN),
    ("### `source`", &schema::SOURCE),
    ("### `split` of a run", &schema::RUN_SPLIT),
    ("### Elements of `panels`", &schema::LAID),
    ("## `[[circuit]]`", &schema::CIRCUIT),
    ("## `[[supply]]`", &schema::SUPPLY),
    ("## `[[feed]]`", &schema::FEED),
    ("### `split` of a feed", &schema::FEED_SPLIT),
    ("## `[[sensor]]`", &schema::SENSOR),
    ("## `[[input]]`", &schema::INPUT),
    ("## `[mqtt]`", &schema::MQTT),
];

/// The rows of the table under a heading: key, what it is, default, meaning.
fn rows(heading: &str) -> Vec<Vec<&'static str>> {
    let mut lines = PAGE.lines().skip_while(|line| *line != heading);
    assert!(lines.next().is_some(), "no heading {heading}");
    lines
        .take_while(|line| !line.starts_with('#'))
        .filter_map(|line| line.strip_prefix("| `"))
        .map(|row| {
            row.trim_end_matches('|')
                .split('|')
                .map(|cell| cell.trim().trim_matches('`'))
                .collect()
        })
        .collect()
}

/// The TOML of the page, block by block.
fn examples() -> Vec<String> {
    let mut blocks = Vec::new();
    let mut open: Option<String> = None;
    for line in PAGE.lines() {
        match &mut open {
            Some(text) if line == "```" => {
                blocks.push(std::mem::take(text));
                open = None;
            }
            Some(text) => *text = format!("{text}{line}\n"),
            None if line == "```toml" => open = Some(String::new()),
            None => {}
        }
    }
    blocks
}

#[test]
fn every_key_has_its_row_and_every_row_its_key() {
    assert_eq!(HEADINGS.len(), schema::ALL.len());
    for ((heading, section), known) in HEADINGS.iter().zip(schema::ALL) {
        assert!(
            std::ptr::eq(*section, known),
            "{heading} is another section"
        );
        let keys: BTreeSet<&str> = section.keys.iter().map(|(key, _)| *key).collect();
        let rows = rows(heading);
        let told: BTreeSet<&str> = rows.iter().map(|row| row[0]).collect();
        assert_eq!(told, keys, "under {heading}");
        for row in &rows {
            assert!(
                row.len() == 4 && row.iter().all(|cell| !cell.is_empty()),
                "{row:?}"
            );
        }
    }
}

#[test]
fn defaults_are_those_of_the_reader() {
    let (signal, delivery, cap) = (defaults::SIGNAL, defaults::DELIVERY, defaults::CAP);
    let (plan, alarm) = (defaults::PLAN, defaults::ALARM);
    for (heading, key, default) in [
        ("## `[grid]`", "gap_mm", defaults::GAP_MM.to_string()),
        (
            "## `[signal]`",
            "lost_after_s",
            signal.lost_after_s.to_string(),
        ),
        ("## `[signal]`", "fade_s", defaults::FADE_S.to_string()),
        ("## `[delivery]`", "copies", delivery.copies.to_string()),
        ("## `[delivery]`", "late_ms", delivery.late_ms.to_string()),
        ("## `[cap]`", "margin", cap.margin.to_string()),
        ("## `[cap]`", "let_up_s", cap.let_up_s.to_string()),
        ("## `[plan]`", "ambient_c", plan.ambient_c.to_string()),
        ("## `[plan]`", "copper_c", plan.copper_c.to_string()),
        ("## `[plan]`", "drop_percent", plan.drop_percent.to_string()),
        ("## `[plan]`", "typical", plan.typical.to_string()),
        (
            "## `[alarm]`",
            "near_percent",
            alarm.near_percent.to_string(),
        ),
        ("## `[alarm]`", "capping_s", alarm.capping_s.to_string()),
        ("## `[[node]]`", "port", PORT.to_string()),
        (
            "## `[[sensor]]`",
            "tolerance_percent",
            defaults::TOLERANCE_PERCENT.to_string(),
        ),
        ("## `[[sensor]]`", "every_s", defaults::EVERY_S.to_string()),
        ("## `[[sensor]]`", "factor", defaults::FACTOR.to_string()),
        ("## `[[run]]`", "slot", defaults::FIRST_SLOT.to_string()),
    ] {
        let rows = rows(heading);
        let row = rows.iter().find(|row| row[0] == key);
        assert_eq!(row.map(|row| row[2]), Some(default.as_str()), "{key}");
    }
}

#[test]
fn the_whole_file_is_read_and_every_key_is_shown() {
    let text = &examples()[0];
    let floor = floor(text);
    assert_eq!((floor.panels.len(), floor.runs.len()), (5, 2));
    let page = examples().concat();
    for section in schema::ALL {
        for (key, _) in section.keys {
            let shown = [format!("{key} = "), format!("[{key}]"), format!("[{key}.")];
            assert!(
                shown.iter().any(|shown| page.contains(shown.as_str())),
                "{key} is not shown"
            );
        }
    }
}

/// A part of a file lacks the other tables, and names what stands in them; all else must be right.
#[test]
fn every_other_example_is_read_as_a_part_of_a_file() {
    let parts = &examples()[1..];
    assert!(parts.len() >= 4, "{parts:?}");
    for text in parts {
        let table = DeTable::parse(text).unwrap_or_else(|error| panic!("{text}{error}"));
        let sink = Sink::default();
        let _ = read::draft(&sink, table.get_ref());
        let mut faults = sink.into_faults();
        // What the whole file lacks is told at its beginning.
        faults.retain(|fault| !(fault.code.starts_with("missing") && fault.at == Some(0..0)));
        assert!(faults.is_empty(), "{text}{faults:?}");
    }
}
