//! A survey on a floor that runs, on a made-up clock: over a network that loses, delays and doubles
//! datagrams, with sensors that waver, lag, mean over their period and speak in steps.
//!
//! What really flows is what `sim/real.rs` and `sim/truth.rs` say, which share no code with what
//! reckons in litfloor.

#![allow(unreachable_pub, reason = "what the modules of this test share")]

#[path = "survey/bench.rs"]
mod bench;
#[path = "survey/clamp.rs"]
mod clamp;
mod daemon;
#[path = "survey/eyes.rs"]
mod eyes;
#[path = "../src/sim/flashes.rs"]
mod flashes;
#[path = "survey/limits.rs"]
mod limits;
#[path = "survey/over_http.rs"]
mod over_http;
#[path = "survey/sight.rs"]
mod sight;
mod support;

/// What the counter of flashes calls its time.
mod units {
    pub use litfloor::units::Time;
}

use std::collections::BTreeSet;

use bench::{Bench, FEEDS};
use litfloor::engine::command::Command;
use litfloor::engine::survey::Ending;
use litfloor::engine::survey::state::{Ended, FoundItem};
use litfloor::pattern::{Start, TestPattern};
use litfloor::sim::real::faults::{Fault, Spot};

#[test]
fn the_dead_segments_are_found_and_no_other() {
    let supplies = ["supply = \"s1\"", "supply = \"s2\""];
    for (seed, sensors) in [
        (1, FEEDS),
        (2, FEEDS),
        (3, &supplies),
        (4, &["circuit = \"c\""]),
    ] {
        let mut bench = Bench::new(&bench::floor(sensors), seed);
        let broken = bench.break_some(3);
        let since = bench.world.now;
        bench.survey(None);
        bench.run_to_its_end();
        let state = bench.state();
        let outcome = state.outcome.unwrap();
        println!(
            "{sensors:?}: {} lights in {:.1} s: {}",
            state.pattern, state.spent_s, outcome.text
        );
        assert_eq!(outcome.ended, Ended::Decided, "{outcome:?}");
        let found = outcome.dead.iter();
        let found: Vec<_> = found
            .map(|one| (one.position.clone(), one.segment))
            .collect();
        assert_eq!(found, broken, "{}", outcome.text);
        assert!(
            outcome.weak.is_empty() && outcome.stuck.is_empty(),
            "{outcome:?}"
        );
        assert_eq!((state.decided, state.items), (32, 32));
        // A mean square over its variance: 1 is what chance leaves (textbook).
        let misfit = outcome.misfit.unwrap();
        assert!((1.0..1.5).contains(&misfit), "{misfit}");
        assert!(
            !outcome.doubtful && !outcome.text.contains("differ more"),
            "{outcome:?}"
        );
        // The console's picture shows again.
        assert!(bench.world.engine.state(bench.world.now).pattern.is_none());
        // WCAG 2.2, success criterion 2.3.1.
        let mut sight = sight::Sight::new(&bench.world);
        sight.see_all(since);
        let most = sight.most();
        println!("most flashes in a second: segment, panel, floor: {most:?}");
        assert!(most.iter().all(|&most| most <= 3), "{most:?}");
        let (frames, changes) = sight.changes();
        assert!(frames > 15 && changes > 30, "{frames} {changes}");
    }
}

/// On a machine that is too slow, or over a network that is too full, readings tell of a light when the next one
/// is on show already, after the sensors were felt.
#[test]
fn readings_that_come_later_than_was_felt_make_the_outcome_doubtful() {
    let supplies = ["supply = \"s1\"", "supply = \"s2\""];
    for (seed, sensors) in [(1, FEEDS), (2, &["circuit = \"c\""]), (4, &supplies)] {
        let mut bench = Bench::new(&bench::floor(sensors), seed);
        bench.break_some(3);
        bench.survey(None);
        while bench.held.len() < 4 {
            bench.pass(100, |_| {});
        }
        for meter in &mut bench.meters {
            meter.late_ms += 300;
        }
        bench.run_to_its_end();
        let outcome = bench.state().outcome.unwrap();
        println!("{sensors:?}: misfit {:?}: {}", outcome.misfit, outcome.text);
        assert!(outcome.doubtful, "{outcome:?}");
        let advice = "do the survey again, or let a person look.";
        assert!(outcome.text.ends_with(advice), "{}", outcome.text);
    }
}

/// The floor that trials of the pure survey are about, with all that a real one adds: a network that
/// loses a tenth, a sensor that tells up to 0.3 s late what it meant over 0.1 s, settling, limits.
#[test]
fn five_of_256_are_found_by_one_sensor() {
    let mut bench = Bench::new(&bench::large(), 21);
    let broken = bench.break_some(5);
    let since = bench.world.now;
    bench.survey(None);
    bench.run_to_its_end();
    let state = bench.state();
    let outcome = state.outcome.unwrap();
    println!(
        "256 segments: {} lights in {:.1} s: {}",
        state.pattern, state.spent_s, outcome.text
    );
    assert_eq!(outcome.ended, Ended::Decided, "{outcome:?}");
    let found = outcome.dead.iter();
    let found: Vec<_> = found
        .map(|one| (one.position.clone(), one.segment))
        .collect();
    assert_eq!(found, broken, "{}", outcome.text);
    let mut sight = sight::Sight::new(&bench.world);
    sight.see_all(since);
    let most = sight.most();
    println!("most flashes in a second: segment, panel, floor: {most:?}");
    assert!(most.iter().all(|&most| most <= 3), "{most:?}");
}

/// How long that takes, over a few sensors and networks: for people who tune it. With `--ignored
/// --nocapture` it prints where the time goes.
#[test]
#[ignore = "takes long"]
fn how_long_256_take() {
    let mut all_s = Vec::new();
    let (mut wrong, mut most) = (0, 0);
    for seed in 100..112 {
        let mut bench = Bench::new(&bench::large(), seed);
        let broken = bench.break_some(5);
        let since = bench.world.now;
        bench.survey(None);
        bench.run_to_its_end();
        let state = bench.state();
        let outcome = state.outcome.unwrap();
        // Dead ones may be called weak, but none too many or too few.
        let found = outcome.dead.iter().chain(&outcome.weak);
        let found: BTreeSet<_> = found
            .map(|one| (one.position.clone(), one.segment))
            .collect();
        let right = found == broken.into_iter().collect() && outcome.ended == Ended::Decided;
        wrong += usize::from(!right);
        let mut sight = sight::Sight::new(&bench.world);
        sight.see_all(since);
        most = most.max(sight.most().into_iter().max().unwrap());
        let felt_s = bench.held[2].0.spent_s;
        let readings: usize = bench.held[3..]
            .iter()
            .map(|(held, _)| held.readings.len())
            .sum();
        let lights = f64::from(state.pattern - 3);
        println!(
            "seed {seed}: {} ms late: {:.1} s, felt {felt_s:.1} s, then {lights} lights of {:.3} s, \
             {readings} readings, {} called weak: {right}",
            bench.meters[0].late_ms,
            state.spent_s,
            (state.spent_s - felt_s) / lights,
            outcome.weak.len(),
        );
        all_s.push(state.spent_s);
    }
    all_s.sort_by(f64::total_cmp);
    println!("{all_s:.1?}, {wrong} wrong, {most} flashes in a second at most");
    assert_eq!(wrong, 0);
    assert!(most <= 3, "{most}");
}

#[test]
fn who_may_not_begin_is_told_why() {
    let mut bench = Bench::new(&bench::floor(FEEDS), 1);
    bench.world.command(Command::Calibrate).unwrap();
    assert_eq!(bench.refused(), "calibrating");
    bench.world.command(Command::StopCalibration).unwrap();
    let all = Start::new(TestPattern::All);
    bench.world.command(Command::Start(all)).unwrap();
    assert_eq!(bench.refused(), "pattern_on");
    bench.world.command(Command::Stop).unwrap();
    bench.survey(None);
    assert_eq!(bench.refused(), "surveying");
    let calibrate = bench.world.command(Command::Calibrate).unwrap_err();
    assert_eq!(calibrate.code, "surveying");
    let mut bench = Bench::new(&bench::floor(&[]), 1);
    assert_eq!(bench.refused(), "no_sensor");
    let slow = bench::floor(FEEDS).replace("every_s = 0.1", "every_s = 10");
    let mut bench = Bench::new(&slow, 1);
    bench.pass(20_000, |_| {});
    assert_eq!(bench.refused(), "no_sensor");
    let mut bench = Bench::new(&bench::floor(FEEDS), 1);
    for meter in &mut bench.meters {
        meter.silent = true;
    }
    bench.pass(10_000, |_| {});
    assert_eq!(bench.refused(), "no_sensor");
}

/// A frozen sensor does not take part, and what only it sees stays unknown.
#[test]
fn a_frozen_sensor_is_left_out() {
    let mut bench = Bench::new(&bench::floor(FEEDS), 5);
    bench.break_segment(1, 2);
    bench.meters[1].frozen = true;
    bench.survey(None);
    bench.run_to_its_end();
    let state = bench.state();
    let outcome = state.outcome.unwrap();
    assert_eq!(outcome.ended, Ended::Decided, "{outcome:?}");
    assert!(outcome.left_out[0].contains("frozen"), "{outcome:?}");
    // Of the right feed of the first supply nothing can be said.
    assert_eq!(outcome.unknown, 8);
    let dead: Vec<_> = outcome
        .dead
        .iter()
        .map(|one| (one.position.as_str(), one.segment))
        .collect();
    assert_eq!(dead, [("B1", 3)]);
}

/// Something that is done to a floor.
type Change<'a> = &'a dyn Fn(&mut Bench);

/// All that a sensor sees is dead. Its reading wavers as ever, or it never wavers by itself and reads the
/// same to the last digit: either way what hangs there is called dead. One that wavered before, or says
/// what only light can draw, is frozen.
#[test]
fn a_feed_that_is_dead_is_told_from_a_frozen_sensor() {
    let steady = |bench: &mut Bench| bench.meters[1].be_steady();
    let froze_lit = |bench: &mut Bench| bench.meters[1].freeze_at(3.0);
    let froze_dark = |bench: &mut Bench| bench.meters[1].frozen = true;
    let cases: [(bool, Change, &str, Change, &str); 5] = [
        (true, &|_| {}, "", &|_| {}, ""),
        (true, &steady, "m1 says exactly the same", &|_| {}, ""),
        // The console plays, so that it is taken for a frozen one before the survey begins.
        (
            true,
            &steady,
            "m1 says exactly the same",
            &|bench| bench.console_plays(200),
            "",
        ),
        (false, &|_| {}, "", &froze_dark, "wavered before"),
        (
            false,
            &|_| {},
            "",
            &froze_lit,
            "more than flows in the dark",
        ),
    ];
    for (dead, before, aside, then, left_out) in cases {
        let mut bench = Bench::beginning(&bench::floor(FEEDS), 12, before);
        let of_the_feed = (2..4).flat_map(|panel| (0..4).map(move |segment| (panel, segment)));
        for (panel, segment) in of_the_feed.filter(|_| dead) {
            bench.break_segment(panel, segment);
        }
        then(&mut bench);
        bench.pass(6_000, |_| {});
        bench.survey(None);
        bench.run_to_its_end();
        let outcome = bench.state().outcome.unwrap();
        assert_eq!(outcome.ended, Ended::Decided, "{outcome:?}");
        assert!(outcome.text.contains(aside), "{outcome:?}");
        if dead {
            assert_eq!((outcome.unknown, outcome.dead.len()), (0, 8), "{outcome:?}");
            let of = |position: &str| position == "C1" || position == "D1";
            assert!(outcome.dead.iter().all(|one| of(&one.position)));
            assert!(outcome.left_out.is_empty(), "{outcome:?}");
        } else {
            assert!(outcome.left_out[0].contains(left_out), "{outcome:?}");
            assert_eq!((outcome.unknown, outcome.dead.len()), (8, 0));
        }
    }
}

/// One that draws whatever it is told is no dead one, where its sensor is finer than what it draws; where
/// several are dead on one sensor, people are told that one of them draws.
#[test]
fn what_draws_all_the_time_is_told_from_what_is_dead() {
    let circuit = ["circuit = \"c\""];
    for (sensors, others, told) in [
        (FEEDS, &[][..], true),
        (FEEDS, &[(0, 1), (6, 2)], true),
        (FEEDS, &[(5, 0)], false),
        (&["supply = \"s1\"", "supply = \"s2\""], &[], true),
        (&circuit, &[], false),
    ] {
        let mut bench = Bench::new(&bench::floor(sensors), 31);
        for &(panel, segment) in others {
            bench.break_segment(panel, segment);
        }
        let spot = Spot {
            panel: 4,
            segment: 3,
        };
        bench.real.afflict(&[(spot, Fault::Stuck(1.0))]);
        bench.survey(None);
        bench.run_to_its_end();
        let outcome = bench.state().outcome.unwrap();
        println!("{sensors:?} {others:?}: {}", outcome.text);
        assert_eq!(outcome.ended, Ended::Decided, "{outcome:?}");
        let named = |found: &[FoundItem]| -> Vec<(String, u32)> {
            let found = found.iter();
            found
                .map(|one| (one.position.clone(), one.segment))
                .collect()
        };
        let stuck = if told {
            vec![("A2".to_owned(), 4)]
        } else {
            Vec::new()
        };
        assert_eq!(named(&outcome.stuck), stuck, "{outcome:?}");
        assert_eq!(
            outcome.dead.len(),
            others.len() + usize::from(!told),
            "{outcome:?}"
        );
        let one_of = outcome.text.contains("it can't be told which");
        assert_eq!(one_of, !told && sensors.len() == FEEDS.len(), "{outcome:?}");
    }
}

/// Whatever ends it in the middle: its light ends with it, the console's picture shows again, and what
/// was found by then stands.
#[test]
fn it_ends_with_its_light_whatever_ends_it() {
    let text = bench::floor(FEEDS);
    let all = || Command::Start(Start::new(TestPattern::All));
    let endings: [(Option<Command>, Ending); 4] = [
        (Some(Command::StopSurvey(None)), Ending::Stopped),
        (Some(Command::OwnerGone(7)), Ending::StarterGone),
        (Some(all()), Ending::OtherLight),
        (None, Ending::Replaced),
    ];
    for (order, wanted) in endings {
        let mut bench = Bench::new(&text, 8);
        bench.console_plays(100);
        bench.survey(Some(7));
        while bench.state_if_any().is_none_or(|state| state.pattern < 4) {
            bench.pass(100, |_| {});
        }
        let shown = bench.world.engine.state(bench.world.now).pattern.unwrap();
        assert_eq!((shown.kind.as_str(), shown.covers_all), ("survey", true));
        // Somebody else goes away, and somebody withdraws another light: that changes nothing.
        bench.world.command(Command::OwnerGone(8)).unwrap();
        let theirs = Start::new(TestPattern::All);
        bench.world.command(Command::Withdraw(theirs)).unwrap();
        bench.pass(100, |_| {});
        assert_eq!(bench.ended, None);
        match order.clone() {
            Some(order) => bench.world.command(order).unwrap(),
            None => bench.world.replace(&text),
        }
        bench.carry();
        assert_eq!(bench.ended, Some(wanted));
        let state = bench.state();
        assert!(!state.running && state.pattern > 3 && state.decided < 32);
        assert_eq!(
            state.outcome.unwrap().text.split(" Found").next(),
            Some(wanted.text())
        );
        bench.pass(1_000, |_| {});
        let shown = bench.world.engine.state(bench.world.now).pattern;
        let kind = shown.map(|shown| shown.kind);
        let other = matches!(order, Some(Command::Start(_)));
        assert_eq!(kind.as_deref(), other.then_some("all"));
        let held = bench.world.nodes[0].held(bench.world.tables.outputs[0].port_address);
        let level = held.unwrap()[0];
        assert_eq!(level, if other { 128 } else { 100 });
    }
}

/// The thinker is gone, or a node: the floor does not stay dark.
#[test]
fn it_ends_when_nothing_comes_any_more() {
    let mut bench = Bench::new(&bench::floor(FEEDS), 9);
    bench.survey(None);
    bench.surveyor = None;
    bench.deaf = true;
    bench.pass(130_000, |_| {});
    assert!(bench.world.engine.state(bench.world.now).pattern.is_none());
    bench.deaf = false;
    bench.carry();
    assert_eq!(bench.ended, Some(Ending::Forgotten));
}
