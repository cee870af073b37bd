//! The show that runs, weighed on a made-up clock: a picture moves, a joint opens, and what is known of
//! faults names it; nothing is named where nothing is broken.
//!
//! What really flows is what `sim/real.rs` says, which shares no code with what reckons in litfloor.

#![allow(unreachable_pub, reason = "what the modules of this test share")]

#[path = "survey/bench.rs"]
#[allow(dead_code, reason = "made for surveys")]
mod bench;
#[path = "survey/clamp.rs"]
mod clamp;
mod daemon;
#[path = "show/over_http.rs"]
mod over_http;
#[path = "show/stage.rs"]
mod stage;
mod support;

use litfloor::health::snapshot::{Cause, EvidenceKind, EvidenceRow};
use litfloor::sim::real::faults::{Fault, Spot};
use stage::Stage;

/// Before the third segment of B1.
const JOINT: Spot = Spot {
    panel: 1,
    segment: 2,
};

#[test]
fn a_joint_that_opens_in_the_show_is_named() {
    for seed in 1..=2 {
        let mut stage = Stage::new(seed);
        stage.survey();
        stage.play(30);
        assert_eq!(stage.faults(), Vec::<String>::new(), "seed {seed}");
        stage.breaks(&[(JOINT, Fault::SupplyOpen)]);
        let found_s = stage.play_until(120, |stage| !stage.health.faults.is_empty());
        println!("seed {seed}: {:?} after {found_s:?} s", stage.faults());
        assert!(found_s.is_some());
        // What has just gone dead may look weak at first.
        stage.play(60);
        let faults = &stage.health.faults;
        assert_eq!(faults.len(), 1, "{faults:#?}");
        let fault = &faults[0];
        assert_eq!(fault.cause, Cause::SupplyOpen, "{fault:#?}");
        assert_eq!(
            fault.place,
            "B1, joint between segments 2 and 3, supply side"
        );
        let of_show = |row: &EvidenceRow| row.kind == EvidenceKind::Show;
        assert!(fault.evidence.iter().any(of_show), "{fault:#?}");
    }
}

#[test]
fn a_whole_floor_has_no_fault() {
    let mut stage = Stage::new(5);
    stage.survey();
    for _ in 0..300 {
        stage.play(1);
        assert_eq!(stage.faults(), Vec::<String>::new());
    }
    // And that is known, not just not said.
    assert!(stage.good() >= 28, "{} of 32", stage.good());
}

/// Before a survey nothing is known of the sensors: the show says nothing at all.
#[test]
fn without_a_survey_the_show_says_nothing() {
    let mut stage = Stage::new(7);
    stage.breaks(&[(JOINT, Fault::SupplyOpen)]);
    stage.play(30);
    assert_eq!(stage.said, 0);
}

/// Nor after one whose readings fit nothing: what it felt of the sensors may be wrong.
#[test]
fn a_survey_that_can_t_be_relied_on_teaches_the_show_nothing() {
    let mut stage = Stage::new(7);
    stage.doubtful_survey();
    stage.breaks(&[(JOINT, Fault::SupplyOpen)]);
    stage.play(30);
    assert_eq!(stage.said, 0);
    // The next one does.
    stage.breaks(&[]);
    stage.survey();
    stage.play(10);
    assert!(stage.said > 0);
}

/// What a survey taught stays known of what the new file says the same of.
#[test]
fn after_the_floor_file_is_read_again_the_show_still_says_what_opens() {
    let mut stage = Stage::new(1);
    stage.survey();
    stage.play(10);
    let text = bench::floor(bench::FEEDS);
    stage.reloads(&text.replace("name = \"surveyed\"", "name = \"renamed\""));
    stage.play(30);
    assert_eq!(stage.faults(), Vec::<String>::new());
    stage.breaks(&[(JOINT, Fault::SupplyOpen)]);
    let found_s = stage.play_until(120, |stage| !stage.health.faults.is_empty());
    println!("{:?} after {found_s:?} s", stage.faults());
    stage.play(60);
    let faults = &stage.health.faults;
    assert_eq!(faults.len(), 1, "{faults:#?}");
    assert_eq!(
        faults[0].place,
        "B1, joint between segments 2 and 3, supply side"
    );
    let of_show = |row: &EvidenceRow| row.kind == EvidenceKind::Show;
    assert!(faults[0].evidence.iter().any(of_show), "{:#?}", faults[0]);
}

/// A panel that the new file says otherwise of, and all that its sensor sees, has to be surveyed anew.
#[test]
fn of_what_the_new_file_says_otherwise_the_show_says_nothing() {
    let mut stage = Stage::new(2);
    stage.survey();
    stage.play(10);
    let text = bench::floor(bench::FEEDS);
    // Another panel lies at A1 now, which hangs on the feed of B1.
    let serials = "panels = [\"A1..D1\"]\nserials = [\"N1\", \"N2\", \"N3\", \"N4\"]";
    let text = text.replace("panels = [\"A1..D1\"]", serials);
    stage.reloads(&text);
    stage.breaks(&[(JOINT, Fault::SupplyOpen)]);
    stage.play(60);
    assert_eq!(stage.faults(), Vec::<String>::new());
    // Of the other row, whose panels and sensors are the same, it still tells.
    assert!(stage.good() >= 14, "{} of 16", stage.good());
    let other = Spot {
        panel: 5,
        segment: 2,
    };
    stage.breaks(&[(other, Fault::SupplyOpen)]);
    stage.play(90);
    let faults = stage.faults();
    assert_eq!(faults, ["B2, joint between segments 2 and 3, supply side"]);
}

/// A newer survey counts more than what the show said before.
#[test]
fn a_survey_overrules_what_the_show_said() {
    let mut stage = Stage::new(8);
    stage.survey();
    stage.play(10);
    stage.breaks(&[(JOINT, Fault::SupplyOpen)]);
    stage.play_until(120, |stage| !stage.health.faults.is_empty());
    assert_eq!(stage.health.faults.len(), 1);
    stage.breaks(&[]);
    stage.survey();
    assert_eq!(stage.faults(), Vec::<String>::new());
    stage.play(30);
    assert_eq!(stage.faults(), Vec::<String>::new());
}

/// A node that loses its power is dark for seconds before anybody knows why.
#[test]
fn a_node_that_restarts_breaks_no_joint() {
    for silent_ms in [5_000, 9_000, 20_000] {
        let mut stage = Stage::new(9);
        stage.survey();
        stage.play(30);
        let now = stage.bench.world.now;
        stage.bench.world.nodes[0].restarts(now, silent_ms);
        for _ in 0..50 {
            stage.play(1);
            let faults = stage.health.faults.iter();
            let other =
                faults.filter(|one| !matches!(one.cause, Cause::NodeSilent | Cause::NodeRestarted));
            let other: Vec<_> = other.map(|one| one.place.clone()).collect();
            assert_eq!(other, Vec::<String>::new(), "{silent_ms} ms");
        }
    }
}

/// Somebody steps on B1 thirty times, and most times its joint opens.
#[test]
fn a_joint_that_opens_under_feet_is_found() {
    let mut stage = Stage::new(10);
    let mut chance = litfloor::sim::link::Chance::new(10);
    stage.survey();
    stage.play(20);
    let mut presses = 0;
    while presses < 30 && stage.health.faults.is_empty() {
        presses += 1;
        stage.steps_on(JOINT.panel, true);
        if chance.share() < 0.7 {
            stage.breaks(&[(JOINT, Fault::SupplyOpen)]);
        }
        stage.play(2);
        stage.steps_on(JOINT.panel, false);
        stage.breaks(&[]);
        stage.play(4);
    }
    println!("{:?} after {presses} presses", stage.faults());
    let faults = &stage.health.faults;
    assert_eq!(faults.len(), 1, "{faults:#?}");
    assert_eq!(faults[0].cause, Cause::Loose, "{faults:#?}");
    assert_eq!(faults[0].position.as_deref(), Some("B1"));
}
