use super::*;
use crate::health::snapshot::{FoundFault, SegmentHealth, Sureness};

fn row(serial: &str, position: Option<&str>) -> PanelRow {
    PanelRow {
        serial: serial.to_owned(),
        position: position.map(str::to_owned),
        open_faults: 0,
        last_bench: None,
    }
}

fn lies(position: &str, serial: &str) -> PlacedRow {
    PlacedRow {
        position: position.to_owned(),
        serial: serial.to_owned(),
    }
}

fn signed(passed: bool, white_a: f64) -> SignedRow {
    SignedRow {
        at: "2026-11-27T09:30:00.000Z".to_owned(),
        passed,
        signature: [("dark_a".to_owned(), 0.04), ("white_a".to_owned(), white_a)].into(),
    }
}

fn panel(position: &str, shares: &[Option<f64>]) -> PanelHealth {
    let segment = |share: &Option<f64>| SegmentHealth {
        condition: match *share {
            None => SegmentCondition::Unknown,
            Some(0.0) => SegmentCondition::Dead,
            Some(share) if share < 0.9 => SegmentCondition::Weak,
            Some(_) => SegmentCondition::Good,
        },
        share: *share,
        ..SegmentHealth::default()
    };
    PanelHealth {
        position: position.to_owned(),
        segments: shares.iter().map(segment).collect(),
        ..PanelHealth::default()
    }
}

fn list(panels: &[PanelRow], signed: Vec<SignedRow>, health: &Health) -> Checklist {
    let placed = panels.iter().filter_map(|row| {
        let position = row.position.as_deref()?;
        Some(lies(position, &row.serial))
    });
    let signed = [("M1".to_owned(), signed)].into();
    checklist(panels, placed.collect(), &signed, health)
}

#[test]
fn what_lies_nowhere_and_what_says_nothing_is_listed() {
    let panels = [
        row("M1", Some("A1")),
        row("M2", Some("B1")),
        row("M3", None),
        row("M4", Some("C1")),
    ];
    let silent = FoundFault {
        key: "node/north".to_owned(),
        cause: Cause::NodeSilent,
        place: "node north silent 14 s".to_owned(),
        effect: String::new(),
        position: None,
        serial: None,
        segments: Vec::new(),
        behind: Vec::new(),
        sure: Sureness::Certain,
        chance: 1.0,
        here: 1.0,
        alternatives: Vec::new(),
        same_place: Vec::new(),
        evidence: Vec::new(),
        since_s: 0.0,
    };
    let mut of_node = panel("C1", &[None, None]);
    of_node.faults.push(silent.key.clone());
    let health = Health {
        faults: vec![silent],
        panels: vec![
            panel("A1", &[Some(0.0), Some(1.0)]),
            panel("B1", &[Some(0.0), Some(0.0)]),
            of_node,
        ],
        ..Health::default()
    };
    let list = list(&panels, Vec::new(), &health);
    assert_eq!(list.unplaced, ["M3"]);
    assert_eq!(list.silent, ["M2", "M4"]);
    assert_eq!(list.placed.len(), 3);
    assert_eq!(list.changed, []);
}

#[test]
fn a_panel_that_draws_otherwise_on_the_bench_is_listed() {
    let panels = [row("M1", None)];
    let known = Health::default();
    let changed = |tests| list(&panels, tests, &known).changed;
    let told = changed(vec![signed(true, 1.43), signed(false, 0.98)]);
    assert_eq!(
        (told[0].was.as_str(), told[0].is.as_str()),
        ("white 1.43 A on the bench", "white 0.98 A on the bench")
    );
    assert_eq!(told[0].position, "–");
    // Within 10 %, by the first good test, and with nothing to compare with.
    assert_eq!(changed(vec![signed(true, 1.43), signed(true, 1.30)]), []);
    assert_eq!(changed(vec![signed(false, 0.98), signed(true, 1.43)]), []);
    assert_eq!(changed(vec![signed(true, 1.43)]), []);
    // A bad test in between is not what the newest is compared with.
    let tests = vec![signed(true, 1.43), signed(false, 0.5), signed(true, 1.42)];
    assert_eq!(changed(tests), []);
}

#[test]
fn a_panel_that_was_good_on_the_bench_and_lacks_current_on_the_floor_is_listed() {
    let panels = [row("M1", Some("A1"))];
    let known = |shares: &[Option<f64>]| Health {
        panels: vec![panel("A1", shares)],
        ..Health::default()
    };
    let changed =
        |shares: &[Option<f64>]| list(&panels, vec![signed(true, 1.43)], &known(shares)).changed;
    let told = changed(&[Some(1.0), Some(0.5)]);
    assert_eq!(told[0].is, "75 % of its current on the floor");
    assert_eq!(told[0].was, "good, white 1.43 A on the bench");
    assert_eq!(changed(&[Some(1.0), Some(0.95)]), []);
    // Nothing is said of half of it.
    assert_eq!(changed(&[None, Some(0.5)]), []);
}
