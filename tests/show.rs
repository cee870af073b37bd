//! The show that runs, weighed on a made-up clock: a picture moves, a joint opens, and what is known of
//! faults names it; nothing is named where nothing is broken.
//!
//! What really flows is what `sim/real.rs` says, which shares no code with what reckons in litfloor.

#![allow(unreachable_pub, reason = "what the modules of this test share")]

#[path = "survey/bench.rs"]
#[allow(dead_code, reason = "made for surveys")]
mod bench;

#[path = "show/stage.rs"]
mod stage;
mod support;

use litfloor::health::snapshot::{Cause, EvidenceKind};
use litfloor::sim::real::faults::{Fault, Spot};
use stage::Stage;

/// Before the third segment of B1.
const JOINT: Spot = Spot {
    panel: 1,
    segment: 2,
};

#[test]
fn a_joint_that_opens_in_the_show_is_named() {
    for seed in 1..=4 {
        let mut stage = Stage::new(seed);
        stage.survey();
        stage.play(60);
        assert_eq!(stage.faults(), Vec::<String>::new(), "seed {seed}");
        stage.breaks(&[(JOINT, Fault::SupplyOpen)]);
        let found_s = stage.play_until(120, |stage| !stage.health.faults.is_empty());
        let health = &stage.health;
        println!("seed {seed}: {:?} after {found_s:?} s", stage.faults());
        assert!(found_s.is_some());
        // Whether the third is dead as well may take a little longer.
        stage.play(30);
        let health = &stage.health;
        assert_eq!(health.faults.len(), 1, "{:#?}", health.faults);
        let fault = &health.faults[0];
        assert_eq!(fault.cause, Cause::SupplyOpen, "{fault:#?}");
        assert_eq!(
            fault.place,
            "B1, joint between segments 2 and 3, supply side"
        );
        assert!(
            fault
                .evidence
                .iter()
                .all(|one| one.kind == EvidenceKind::Show)
        );
    }
}

#[test]
fn a_whole_floor_has_no_fault() {
    for seed in 5..=6 {
        let mut stage = Stage::new(seed);
        stage.survey();
        for _ in 0..10 {
            stage.play(60);
            assert_eq!(stage.faults(), Vec::<String>::new(), "seed {seed}");
        }
        assert!(stage.said > 0, "that nothing is broken must be known");
    }
}

/// Before a survey nothing is known of the sensors: the show says nothing at all.
#[test]
fn without_a_survey_the_show_says_nothing() {
    let mut stage = Stage::new(7);
    stage.breaks(&[(JOINT, Fault::SupplyOpen)]);
    stage.play(60);
    assert_eq!(stage.said, 0);
}

/// A newer survey counts more than what the show said before.
#[test]
fn a_survey_overrules_what_the_show_said() {
    let mut stage = Stage::new(8);
    stage.survey();
    stage.play(60);
    stage.breaks(&[(JOINT, Fault::SupplyOpen)]);
    stage.play_until(120, |stage| !stage.health.faults.is_empty());
    assert_eq!(stage.health.faults.len(), 1);
    stage.breaks(&[]);
    stage.survey();
    assert_eq!(stage.faults(), Vec::<String>::new());
    stage.play(60);
    assert_eq!(stage.faults(), Vec::<String>::new());
}

/// A node that loses its power is dark for seconds before anybody knows why.
#[test]
fn a_node_that_restarts_breaks_no_joint() {
    for silent_ms in [2_000, 5_000, 9_000, 20_000] {
        let mut stage = Stage::new(9);
        stage.survey();
        stage.play(60);
        let now = stage.bench.world.now;
        stage.bench.world.nodes[0].restarts(now, silent_ms);
        for _ in 0..60 {
            stage.play(1);
            let faults = stage.health.faults.iter();
            let other =
                faults.filter(|one| !matches!(one.cause, Cause::NodeSilent | Cause::NodeRestarted));
            let other: Vec<_> = other.map(|one| one.place.clone()).collect();
            assert_eq!(other, Vec::<String>::new(), "{silent_ms} ms");
        }
    }
}
