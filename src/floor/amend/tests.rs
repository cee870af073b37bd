//! Amended files against what was written by hand.

use super::super::{Floor, parse};
use super::*;

/// Six panels on two outputs that are written as one.
const TEXT: &str = r#"name = "six"
[grid]
columns = 3
rows = 2
panel_mm = [400, 400]
panel = "plain"
[pixel.strip]
slots = "GRB"   # the reel says so
volts = 12
full_ma = { red = 18.5, green = 18.5, blue = 18.5 }
idle_ma = 0.5
[panel.plain]
pixel = "strip"
columns = 3
rows = 3
[panel.edge]
pixel = "strip"
columns = 2
rows = 2
at = ["A2..C2"]   # the lower row
[[node]]
name = "north"
address = "10.0.0.1"
# both outputs
[[run]]
node = "north"
port = 1
start = "0:0:0"
slot = 4   # after the lamp
panels = [
    "A1..C1",   # there
    { at = "C2..A2", turn = 180 },   # and back
]
serials = ["P1..P6"]
split = { panels = 2, universes = 2 }
source = "1:0:0"
[[circuit]]
name = "c"
volts = 230
rated_a = 16
[[supply]]
name = "s"
circuit = "c"
volts = 12
rated_a = 50
efficiency = 0.9
power_factor = 0.9
[[feed]]
name = "f"
supply = "s"
fuse_a = 30
positions = ["A1..C2"]
"#;

fn plan() -> Floor {
    parse("six.toml", TEXT).unwrap_or_else(|faults| panic!("{}", faults.render(false)))
}

/// The lines that differ, as they are after.
fn changed(found: &Floor) -> Vec<String> {
    let amended = amend(TEXT, &plan(), found).unwrap();
    let before: Vec<&str> = TEXT.lines().collect();
    let lines = amended.lines().filter(|line| !before.contains(line));
    lines.map(str::to_owned).collect()
}

#[test]
fn what_was_built_as_planned_stays_to_the_letter() {
    assert_eq!(amend(TEXT, &plan(), &plan()).unwrap(), TEXT);
}

#[test]
fn a_turned_panel_breaks_its_line_and_no_other() {
    let mut found = plan();
    // B2: the middle of the way back.
    found.panels[4].turn_deg = 90;
    assert_eq!(
        changed(&found),
        [
            r#"    { at = "C2", turn = 180 }, { at = "B2", turn = 90 }, { at = "A2", turn = 180 },   # and back"#
        ]
    );
}

#[test]
fn one_order_of_colours_is_one_word() {
    let mut found = plan();
    found.pixel_kinds[0].slots.swap(0, 1);
    assert_eq!(changed(&found), [r#"slots = "RGB"   # the reel says so"#]);
}

#[test]
fn an_output_of_several_that_begins_elsewhere_is_written_by_itself() {
    let mut found = plan();
    found.runs[1].slot = 7;
    let amended = amend(TEXT, &plan(), &found).unwrap();
    let runs = &amended[amended.find("# both").unwrap()..amended.find("[[circuit]]").unwrap()];
    assert_eq!(
        runs,
        r#"# both outputs
[[run]]
node = "north"
port = 1
start = "0:0:0"
slot = 4   # after the lamp
panels = [
    "A1..B1"]
serials = ["P1", "P2"]
source = "1:0:0"

[[run]]
node = "north"
port = 2
start = "0:0:2"
slot = 7   # after the lamp
panels = ["C1",   # there
    { at = "C2", turn = 180 }]
serials = ["P3", "P4"]
source = "next"

[[run]]
node = "north"
port = 3
start = "0:0:4"
slot = 4   # after the lamp
panels = [{ at = "B2..A2", turn = 180 },   # and back
]
serials = ["P5", "P6"]
source = "next"
"#
    );
    assert_eq!(parse("six.toml", &amended).unwrap().runs, found.runs);
}

#[test]
fn lines_end_as_they_did() {
    let windows = TEXT.replace('\n', "\r\n");
    for text in [
        windows.clone(),
        TEXT.trim_end().to_owned(),
        windows.trim_end().to_owned(),
        format!("\u{feff}{TEXT}"),
        format!("\u{feff}{windows}"),
    ] {
        assert_eq!(amend(&text, &plan(), &plan()).unwrap(), text);
        let mut found = plan();
        found.panels[1].serial = "P9".to_owned();
        assert_eq!(
            amend(&text, &plan(), &found).unwrap(),
            text.replace(r#"["P1..P6"]"#, r#"["P1", "P9", "P3..P6"]"#)
        );
    }
}

#[test]
fn a_long_list_is_broken_into_lines() {
    let many: Vec<_> = (0..23)
        .map(|at| Value::from(format!("P{}", at * 7)))
        .collect();
    let lines = lists::list(many).to_string();
    let lines: Vec<_> = lines.lines().collect();
    assert_eq!(lines.len(), 3);
    assert!(lines[0].starts_with(r#"["P0", "P7", "#));
    assert_eq!(lines[2], r#"    "P140", "P147", "P154"]"#);
}

/// What `diff -u` of GNU diffutils 3.8 writes, but for what it says behind the tabulators.
#[test]
fn a_difference_is_a_unified_one() {
    let told = difference("my floor.toml", "as placed", ("a\nb\nc", "a\nc\n"));
    let wanted = "--- my floor.toml\tas it is\n+++ my floor.toml\tas placed\n@@ -1,3 +1,2 @@\n a\n-b\n-c\n\\ No newline at end of file\n+c\n";
    assert_eq!(told, wanted);
    assert_eq!(difference("a", "b", ("same\n", "same\n")), "");
}

#[test]
fn panels_of_two_kinds_change_places_with_their_serials() {
    let mut found = plan();
    // A1 and B2: what is laid belongs to the place, what is wired to the panel.
    let (a, b) = (found.panels[0].clone(), found.panels[4].clone());
    for (at, from) in [(0, b), (4, a)] {
        let panel = &mut found.panels[at];
        (panel.kind, panel.serial, panel.run, panel.lead) =
            (from.kind, from.serial, from.run, from.lead);
    }
    for run in &mut found.runs {
        for panel in &mut run.panels {
            *panel = match *panel {
                0 => 4,
                4 => 0,
                other => other,
            };
        }
    }
    assert_eq!(
        changed(&found),
        [
            r#"at = ["A2", "C2", "A1"]   # the lower row"#,
            r#"    { at = "B2", turn = 180 }, "B1..C1",   # there"#,
            r#"    { at = "C2", turn = 180 }, "A1", { at = "A2", turn = 180 },   # and back"#,
        ]
    );
}

#[test]
fn what_can_not_be_said_is_refused_with_the_reason() {
    let mut found = plan();
    found.panels[0].serial = "P2".to_owned();
    let why = amend(TEXT, &plan(), &found).unwrap_err().to_string();
    assert!(why.contains("P2"), "{why}");
    assert!(amend("name = ", &plan(), &plan()).is_err());
}
