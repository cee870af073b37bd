use super::*;
use crate::floor::Floor;
use crate::floor::model::Fed;
use crate::floor::testing;
use crate::health::joints::Place;
use crate::health::{Condition, Judged};

use proptest::prelude::*;

/// The demo's floor, with strips that are fed at one end only.
fn fed_at_the_start() -> Floor {
    let mut floor = testing::demo();
    for strip in floor
        .panel_kinds
        .iter_mut()
        .filter_map(|kind| kind.strip.as_mut())
    {
        strip.fed = Fed::Start;
    }
    floor
}

/// Verdicts of an estimator that saw which items are dead, and is so sure.
fn seen(joints: &Joints, dead: &[u32], doubt: f64) -> Vec<Belief> {
    let judged = |at: usize| {
        let is_dead = dead.iter().any(|&dead| dead as usize == at);
        let condition = if is_dead {
            Condition::Dead
        } else {
            Condition::Good
        };
        Belief::of(Judged { condition, doubt })
    };
    (0..joints.items.len()).map(judged).collect()
}

fn open(joints: &Joints, wire: Wire, place: Place) -> usize {
    let is = |joint: &super::super::joints::Joint| joint.wire == wire && joint.place == place;
    joints.joints.iter().position(is).unwrap()
}

#[test]
fn an_open_supply_joint_is_named_when_the_next_panel_still_shines() {
    let floor = fed_at_the_start();
    let joints = Joints::new(&floor);
    let panel = floor.runs[0].panels[0];
    let place = Place::Before { panel, segment: 2 };
    let at = open(&joints, Wire::Supply, place);
    let beliefs = seen(&joints, &joints.joints[at].takes, 1e-4);
    let found = find(&joints, &beliefs, &[]);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].guess, Guess::Open(at));
    assert!(found[0].chance > 0.9, "{found:?}");
}

#[test]
fn in_the_last_panel_of_a_run_supply_and_data_cannot_be_told_apart() {
    let floor = fed_at_the_start();
    let joints = Joints::new(&floor);
    let panel = *floor.runs[0].panels.last().unwrap();
    let place = Place::Before { panel, segment: 1 };
    let (supply, data) = (
        open(&joints, Wire::Supply, place),
        open(&joints, Wire::Data, place),
    );
    let beliefs = seen(&joints, &joints.joints[supply].takes, 1e-4);
    let found = find(&joints, &beliefs, &[]);
    assert_eq!(found.len(), 1);
    assert!(found[0].chance < 0.9);
    let mut told: Vec<Guess> = found[0].others.iter().map(|other| other.0).collect();
    told.push(found[0].guess);
    assert!(told.contains(&Guess::Open(supply)) && told.contains(&Guess::Open(data)));
}

#[test]
fn frozen_light_speaks_for_the_data() {
    let floor = fed_at_the_start();
    let joints = Joints::new(&floor);
    let panel = *floor.runs[0].panels.last().unwrap();
    let data = open(&joints, Wire::Data, Place::Before { panel, segment: 1 });
    let mut beliefs = seen(&joints, &[], 1e-4);
    for &item in &joints.joints[data].takes {
        beliefs[item as usize] = Belief::of(Judged {
            condition: Condition::Stuck(0.4),
            doubt: 1e-4,
        });
    }
    let found = find(&joints, &beliefs, &[]);
    assert_eq!(found[0].guess, Guess::Open(data), "{found:?}");
    assert!(found[0].chance > 0.9, "{found:?}");
}

#[test]
fn one_dead_segment_with_good_ones_behind_it_is_dead_itself() {
    let floor = fed_at_the_start();
    let joints = Joints::new(&floor);
    let item = joints.of_panel[0].start + 1;
    let beliefs = seen(&joints, &[u32::try_from(item).unwrap()], 1e-4);
    let found = find(&joints, &beliefs, &[]);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].guess, Guess::Dead(item));
}

#[test]
fn a_claim_makes_a_weak_suspicion_strong_enough() {
    let floor = fed_at_the_start();
    let joints = Joints::new(&floor);
    let place = Place::Before {
        panel: 0,
        segment: 2,
    };
    let at = open(&joints, Wire::Supply, place);
    let mut beliefs = seen(&joints, &[], 1e-4);
    let takes = &joints.joints[at].takes;
    for &item in takes {
        // Together a little less than what an open joint costs.
        let dead = 4.0 / f64::from(u32::try_from(takes.len()).unwrap());
        beliefs[item as usize] = Belief {
            dead,
            ..Belief::default()
        };
    }
    assert_eq!(find(&joints, &beliefs, &[]), []);
    let claim = Claim {
        panel: 0,
        weight: 2.9,
    };
    assert!(!explained(&joints, &claim, &[]));
    let found = find(&joints, &beliefs, &[claim]);
    assert!(explained(&joints, &claim, &found), "{found:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whichever joint opens, it is named or is told as another explanation, and nothing wrong is
    /// ever certain.
    #[test]
    fn whichever_joint_opens_is_named(pick in any::<prop::sample::Index>(), doubt in 1e-6..1e-3_f64) {
        let floor = fed_at_the_start();
        let joints = Joints::new(&floor);
        let at = pick.index(joints.joints.len());
        let beliefs = seen(&joints, &joints.joints[at].takes, doubt);
        let found = find(&joints, &beliefs, &[]);
        let same = |guess: Guess| match guess {
            Guess::Open(other) => joints.joints[other].takes == joints.joints[at].takes,
            Guess::Dead(item) => joints.joints[at].takes == [u32::try_from(item).unwrap()],
            _ => false,
        };
        let named = found.iter().any(|found| {
            same(found.guess) || found.others.iter().any(|(other, _)| same(*other))
        });
        prop_assert!(named, "{:?}", found);
        for found in &found {
            let right = found.guess == Guess::Open(at);
            prop_assert!(right || found.chance < 0.999, "{:?}", found);
        }
    }

    /// Two joints at once: everything that is dead is explained, and nothing else is blamed.
    #[test]
    fn two_joints_at_once_are_explained(
        one in any::<prop::sample::Index>(),
        other in any::<prop::sample::Index>(),
    ) {
        let floor = fed_at_the_start();
        let joints = Joints::new(&floor);
        let (one, other) = (one.index(joints.joints.len()), other.index(joints.joints.len()));
        let mut dead = joints.joints[one].takes.clone();
        dead.extend(&joints.joints[other].takes);
        dead.sort_unstable();
        dead.dedup();
        let found = find(&joints, &seen(&joints, &dead, 1e-6), &[]);
        let mut explained: Vec<u32> = found.iter().flat_map(|found| found.takes.clone()).collect();
        explained.sort_unstable();
        explained.dedup();
        prop_assert_eq!(explained, dead);
    }
}
