//! `litfloor patch` as a process: what is printed where, and with which exit status.

mod daemon;

use std::fs;

use daemon::ended;
use serde_json::Value;

const DEMO: &str = "config/demo.toml";

fn json(arguments: &[&str]) -> Value {
    let (status, out, err) = ended(arguments);
    assert_eq!((status, err.as_str()), (0, ""));
    serde_json::from_str(&out).unwrap()
}

#[test]
fn the_sheet_comes_in_four_formats() {
    let (status, text, err) = ended(&["patch", DEMO]);
    assert_eq!((status, err.as_str()), (0, ""));
    assert!(text.contains("Run 7: south (10.20.30.22:6454) port 4, 8 panels"));
    assert!(text.contains("Caution: "), "{text}");
    for line in text.lines().filter(|line| line.starts_with("  ")) {
        assert!(line.chars().count() <= 100, "{line}");
    }
    let sheet = json(&["patch", DEMO, "--format", "json"]);
    assert_eq!(
        (&sheet["panels"], &sheet["slots"]),
        (&51.into(), &7224.into())
    );
    // The last run begins with slot 13 of 0:1:8.
    let first = &sheet["runs"][6]["panels"][0];
    assert_eq!(first["position"], "H6");
    let place = serde_json::json!({"port_address": "0:1:8", "universe": 24, "slot": 13});
    assert_eq!(first["at_node"]["first"], place);
    let (_, csv, _) = ended(&["patch", DEMO, "--format", "csv"]);
    assert_eq!(csv.matches("\r\n").count(), 52, "a header and 51 panels");
    let (_, html, _) = ended(&["patch", DEMO, "--format", "html"]);
    assert!(html.starts_with("<!doctype html>") && html.trim_end().ends_with("</html>"));
    assert_eq!(html.matches("<table>").count(), 7);
}

#[test]
fn a_slot_and_a_pixel_lead_to_each_other() {
    // Run 1 begins at 0:0:1/1, 48 pixels of 3 slots a panel: slot 121 is the 41st pixel's first.
    let found = json(&["patch", DEMO, "--at", "0:0:1/121", "--format", "json"]);
    let lit = &found["at_node"]["lights"][0];
    assert_eq!(
        (&lit["position"], &lit["pixel"]),
        (&"A1".into(), &41.into())
    );
    assert_eq!(
        found,
        json(&["patch", DEMO, "--at", "1/121", "--format", "json"])
    );
    let back = json(&["patch", DEMO, "--pixel", "A1:41", "--format", "json"]);
    let slots = back["asked"][0]["slots"].as_array().unwrap();
    assert_eq!(slots.len(), 3);
    assert_eq!(slots[0]["at_node"]["slot"], 121);
    let (status, out, _) = ended(&["patch", DEMO, "--at", "100/1"]);
    assert_eq!(status, 0);
    assert!(out.contains("lights nothing"), "{out}");
    // A serial where the file gives them.
    let (_, out, _) = ended(&["patch", "config/large-floor.toml", "--pixel", "R457"]);
    assert!(out.starts_with("Panel B1, serial R457"), "{out}");
}

#[test]
fn wrong_questions_and_faulty_files_have_their_exit_status() {
    for (wanted, arguments) in [
        (1, &["patch", "no-such-floor.toml"][..]),
        (1, &["patch", DEMO, "--pixel", "Z9:1"]),
        (1, &["patch", DEMO, "--pixel", "A1:49"]),
        (2, &["patch"]),
        (2, &["patch", DEMO, "--at", "121"]),
        (2, &["patch", DEMO, "--at", "3/1", "--pixel", "A1"]),
        (2, &["patch", DEMO, "--at", "3/1", "--format", "csv"]),
        (2, &["patch", "--import", "sheet.csv"]),
        (
            2,
            &[
                "patch",
                "--import",
                "s.csv",
                "--slots",
                "10",
                "--slots-per-pixel",
                "3",
            ],
        ),
        (2, &["patch", DEMO, "--floor", DEMO]),
        (2, &["patch", DEMO, "--universes-from", "1"]),
        (
            1,
            &["patch", "--import", "no-such-sheet.csv", "--slots", "9"],
        ),
    ] {
        let (status, out, err) = ended(arguments);
        assert_eq!((status, out.as_str()), (wanted, ""), "{arguments:?}: {err}");
        assert!(!err.is_empty(), "{arguments:?}");
    }
}

#[test]
fn a_sheet_goes_out_and_comes_back() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (_, sheet, _) = ended(&["patch", DEMO, "--format", "csv"]);
    fs::write(path("sheet.csv"), &sheet).unwrap();
    let (status, runs, err) = ended(&["patch", "--import", &path("sheet.csv"), "--floor", DEMO]);
    assert_eq!((status, err.as_str()), (0, ""));
    let demo = fs::read_to_string(DEMO).unwrap();
    let (before, rest) = demo.split_once("[[run]]").unwrap();
    let after = &rest[rest.find("[[circuit]]").unwrap()..];
    fs::write(path("again.toml"), format!("{before}{runs}\n{after}")).unwrap();
    let (status, again, err) = ended(&["patch", &path("again.toml"), "--format", "csv"]);
    assert_eq!((status, err.as_str()), (0, ""));
    assert_eq!(again, sheet);

    let bad = sheet
        .replace(",A1,", ",A99,")
        .replace(",0:0:2,", ",0:99:2,");
    assert_ne!(bad, sheet);
    fs::write(path("bad.csv"), bad).unwrap();
    let (status, out, err) = ended(&["patch", "--import", &path("bad.csv"), "--floor", DEMO]);
    assert_eq!((status, out.as_str()), (1, ""));
    assert!(err.contains("row 2: nothing lies in A99"), "{err}");
    assert!(err.contains("row 6: \"0:99:2\" is no universe"), "{err}");
}
