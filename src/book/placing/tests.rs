use proptest::prelude::*;
use proptest::sample::subsequence;

use super::*;
use crate::floor::parse;

/// Two runs, one of which has no serials in the file.
const TEXT: &str = r#"name = "seven"
[grid]
columns = 4
rows = 2
empty = ["D2"]
panel_mm = [400, 400]
panel = "plain"
[pixel.strip]
slots = "GRB"
volts = 12
full_ma = { red = 18.5, green = 18.5, blue = 18.5 }
idle_ma = 0.5
[panel.plain]
pixel = "strip"
columns = 3
rows = 3
[[node]]
name = "north"
address = "10.0.0.1"
[[run]]
node = "north"
port = 1
start = "0:0:0"
panels = ["A1..D1"]
serials = ["P1..P3", "P9"]   # as they came from the van
[[run]]
node = "north"
port = 2
start = "0:0:1"   # the lower row
panels = ["A2..C2"]
[[circuit]]
name = "mains"
volts = 230
rated_a = 16
[[supply]]
name = "S1"
circuit = "mains"
volts = 12
rated_a = 40
efficiency = 0.9
power_factor = 0.95
[[feed]]
name = "F1"
supply = "S1"
fuse_a = 10
positions = ["A1..D1", "A2..C2"]
"#;

fn lies(position: &str, serial: &str) -> PlacedRow {
    PlacedRow {
        position: position.to_owned(),
        serial: serial.to_owned(),
    }
}

fn upper() -> Vec<PlacedRow> {
    vec![
        lies("A1", "P1"),
        lies("B1", "P2"),
        lies("C1", "P3"),
        lies("D1", "P9"),
    ]
}

fn made(placed: &[PlacedRow]) -> Result<Rewritten, NotRewritten> {
    let floor = parse("floor.toml", TEXT).unwrap();
    rewrite("floor.toml", TEXT, &floor, placed)
}

#[test]
fn what_the_file_says_already_changes_nothing() {
    let same = made(&upper()).unwrap();
    assert_eq!((same.text.as_str(), same.diff.as_str()), (TEXT, ""));
}

#[test]
fn a_panel_that_changed_places_is_written_with_the_comments_kept() {
    let mut placed = upper();
    placed[0].serial = "P9".to_owned();
    placed[3].serial = "P1".to_owned();
    let rewritten = made(&placed).unwrap();
    let floor = parse("floor.toml", &rewritten.text).unwrap();
    let serials = floor.panels.iter().map(|panel| panel.serial.as_str());
    assert_eq!(
        serials.collect::<Vec<_>>(),
        ["P9", "P2", "P3", "P1", "", "", ""]
    );
    assert!(rewritten.text.contains("# as they came from the van"));
    assert!(rewritten.diff.contains("+++ floor.toml\tas placed\n"));
}

#[test]
fn a_run_without_serials_gets_them_once_all_are_placed() {
    let mut placed = upper();
    placed.extend([lies("A2", "Q1"), lies("B2", "Q2")]);
    assert_eq!(
        made(&placed),
        Err(NotRewritten::NotAllPlaced(vec!["C2".to_owned()]))
    );
    placed.push(lies("C2", "Q3"));
    let rewritten = made(&placed).unwrap();
    assert!(
        rewritten.text.contains(r#"serials = ["Q1..Q3"]"#),
        "{}",
        rewritten.text
    );
    assert!(rewritten.text.contains("# the lower row"));
}

#[test]
fn a_gap_in_a_run_is_told_with_its_place() {
    let mut placed = upper();
    placed.remove(1);
    let why = made(&placed).unwrap_err();
    assert!(
        why.to_string().ends_with("nothing is placed yet at B1"),
        "{why}"
    );
}

proptest! {
    /// Whatever order panels are laid in, and however lines end, the file reads as the same floor but for
    /// its serials, and those are as placed. No other line changes, and there is nothing left to change.
    #[test]
    fn the_rewritten_file_is_the_same_floor_with_the_serials_as_placed(
        order in subsequence((1..60).collect::<Vec<u32>>(), 7).prop_shuffle(),
        windows: bool,
        ended: bool,
    ) {
        let mut text = TEXT.to_owned();
        if windows {
            text = text.replace('\n', "\r\n");
        }
        if !ended {
            text.truncate(text.trim_end().len());
        }
        let floor = parse("floor.toml", &text).unwrap();
        let serials: Vec<String> = order.iter().map(|number| format!("X{number:02}")).collect();
        let panels = floor.panels.iter().zip(&serials);
        let placed: Vec<_> = panels
            .map(|(panel, serial)| lies(&panel.position.to_string(), serial))
            .collect();
        let rewritten = rewrite("floor.toml", &text, &floor, &placed).unwrap();
        let mut read = parse("floor.toml", &rewritten.text).unwrap();
        let said: Vec<_> = read.panels.iter().map(|panel| panel.serial.clone()).collect();
        prop_assert_eq!(said, serials);
        let again = rewrite("floor.toml", &rewritten.text, &read, &placed).unwrap();
        prop_assert_eq!((&again.text, again.diff.as_str()), (&rewritten.text, ""));
        for (panel, was) in read.panels.iter_mut().zip(&floor.panels) {
            panel.serial.clone_from(&was.serial);
        }
        prop_assert_eq!(read, floor);
        prop_assert_eq!(but_serials(&rewritten.text), but_serials(&text));
    }
}

/// All lines with their ends, but those of serials; of these, what is said behind them.
fn but_serials(text: &str) -> Vec<&str> {
    let lines = text.split_inclusive('\n').filter_map(|line| {
        if line.starts_with("serials") {
            line.split_once(']')
                .map(|(_, behind)| behind.trim())
                .filter(|it| !it.is_empty())
        } else {
            Some(line)
        }
    });
    lines.collect()
}
