//! What must not be said to be safe.

use super::*;
use crate::floor::model::{Cable, Conductor, Peak};
use crate::units::Amps;

fn texts(plan: &Plan, danger: Danger) -> Vec<String> {
    let found = plan.findings.iter().filter(|f| f.danger == danger);
    found.map(|finding| finding.text.clone()).collect()
}

fn cabled(mm2: f64) -> Floor {
    let mut floor = testing::floor();
    floor.feeds[0].cable = Some(Cable {
        length_m: 1.0,
        conductor: Conductor::Mm2(mm2),
    });
    floor
}

#[test]
fn what_a_panel_carries_inside_is_not_guessed() {
    let mut floor = cabled(2.5);
    for kind in &mut floor.panel_kinds {
        (kind.rated_a, kind.tail) = (None, None);
    }
    let plan = plan(&floor);
    // 2.5 mm² carries 20 A (UK flexible cord), and yet the fuse may be too large for the strip.
    assert_eq!(plan.feeds[0].wire_carries_fuse, Some(Fits::Unknown));
    let expected = format!(
        "what the strip and the wires inside {} carry behind a fuse of 10 A is not in the file \
         (rated_a), so it was not checked",
        plan.feeds[0].unrated_kinds[0]
    );
    assert!(texts(&plan, Danger::NotKnown).contains(&expected));
}

#[test]
fn a_short_is_not_judged_by_a_guess() {
    let plan = plan(&cabled(2.5));
    assert!(
        texts(&plan, Danger::NotKnown)
            .iter()
            .any(|text| text.contains("if short_a is 50 A"))
    );
    // F2 has no cable.
    assert_eq!(plan.feeds[1].short.as_ref().unwrap().opens, None);
}

/// Copper colder than 20 °C would resist less: 1.0 by the table at 20 °C.
#[test]
fn the_least_current_is_that_of_copper_at_twenty_degrees_or_more() {
    let mut floor = cabled(2.5);
    floor.plan.copper_c = -20.0;
    let short = plan(&floor).feeds[0].short.clone().unwrap();
    near(short.warm_ohm, short.cold_ohm, 1e-12);
}

#[test]
fn no_cap_keeps_a_dark_floor_below_its_idle_draw() {
    let mut floor = testing::floor();
    floor.cap.floor_va = Some(0.01);
    let plan = plan(&floor);
    let found = plan.findings.iter().find(|f| f.rule == Rule::FloorLoad);
    let text = &found.unwrap().text;
    assert!(
        text.contains("VA even when dark") && text.contains("no cap can keep it"),
        "{text}"
    );
    assert!(!text.contains("the cap holds"), "{text}");
}

/// By hand: 16 A × 0.8 at 230 V is 2,944 VA, 28.3 A at 104 V.
#[test]
fn the_cap_reckons_with_the_volts_of_the_file() {
    let mut floor = testing::floor();
    floor.circuits[0].rated_a = Amps(16.0);
    floor.pixel_kinds[0].slots[0].full_ua = 20_000_000;
    let asked_for = Asked {
        mains_volts: Some(Volts(104.0)),
        typical: Vec::new(),
    };
    let plan = asked(&floor, &asked_for);
    let found = plan
        .findings
        .iter()
        .find(|f| f.level == "at the other mains voltage, circuit");
    let text = &found.unwrap().text;
    assert!(
        text.contains("would let 28.3 A through at 104 V, 177 % of 16 A"),
        "{text}"
    );
    assert!(text.contains("write volts = 104 into the file before you run there"));
    assert!(!text.contains("the cap holds"), "{text}");
}

#[test]
fn a_feed_without_panels_is_planned() {
    let mut floor = testing::floor();
    floor.feeds[1].panels.clear();
    let plan = plan(&floor);
    assert_eq!(plan.feeds[1].volts_behind.cases[0].lowest_at, None);
    assert!(plan.feeds[1].short.is_none());
}

/// By hand: 0.8 × 10 A × 180 % = 14.4 A, above 13.5 A (ISO 8820-3, from memory: 135 %) and above the
/// 10 A of 1 mm² (UK flexible cord); 0.8 × 10 A × 150 % = 12 A only above the latter.
#[test]
fn a_peak_above_fuse_or_wire_is_a_fire() {
    let mut floor = cabled(1.0);
    for kind in &mut floor.panel_kinds {
        (kind.rated_a, kind.tail) = (None, None);
    }
    floor.cap.margin = 0.8;
    let mut peaks = |percent| {
        floor.feeds[0].peak = Some(Peak { percent, s: 2.0 });
        let plan = plan(&floor);
        let of_peak = plan.findings.iter().filter(|f| f.rule == Rule::Peak);
        of_peak
            .map(|f| (f.danger, f.text.clone()))
            .collect::<Vec<_>>()
    };
    let high = peaks(180.0);
    assert_eq!(high.len(), 3, "{high:?}");
    assert!(
        high[0]
            .1
            .contains("14.4 A through for 2 s, more than 1.35 × its fuse of 10 A")
    );
    assert!(
        high[1]
            .1
            .contains("more than the cable of 1 mm² carries (10.0 A)")
    );
    assert_eq!((high[0].0, high[1].0), (Danger::Fire, Danger::Fire));
    let fair = peaks(150.0);
    assert_eq!(fair.len(), 2, "{fair:?}");
    assert!(fair[0].1.contains("12.0 A") && fair[0].1.contains("cable of 1 mm²"));
    assert!(fair[1].1.contains("time-current curve"));
    let low = peaks(110.0);
    assert_eq!(low.len(), 1, "{low:?}");
}
