//! Small shows on a made-up floor, start to end; `examples/show_trials.rs` runs hours of big ones.

#[path = "support/dice.rs"]
mod dice;
#[path = "support/showing.rs"]
mod showing;

use litfloor::health::Condition;
use litfloor::health::show::{Findings, SensorWord};
use showing::{Content, Floor, Kind, Showing, eight_sensors};

/// One feed of 4 panels of 8 segments.
fn small() -> Kind {
    Kind {
        panels: 4,
        across: 4,
        sensors: 1,
        ..eight_sensors()
    }
}

fn faulty(findings: &Findings) -> Vec<usize> {
    let is_faulty = |condition| !matches!(condition, Condition::Good | Condition::Unknown);
    let all = findings.judged.iter().enumerate();
    all.filter(|(_, judged)| is_faulty(judged.condition))
        .map(|(at, _)| at)
        .collect()
}

fn good(findings: &Findings) -> usize {
    let judged = findings.judged.iter();
    judged
        .filter(|judged| judged.condition == Condition::Good)
        .count()
}

/// Shows for so long; whatever was called faulty on the way, and what is found at the end.
fn run(showing: &mut Showing, seconds: u32) -> (Vec<usize>, Findings) {
    let mut ever = Vec::new();
    let mut last = Findings::default();
    for _ in 0..seconds {
        last = showing.second(|_| {}).clone();
        ever.extend(faulty(&last));
    }
    ever.sort_unstable();
    ever.dedup();
    (ever, last)
}

#[test]
fn the_dead_are_named_from_moving_content_and_nothing_else() {
    for seed in 0..5 {
        let mut floor = Floor::new(&small(), seed);
        let killed = floor.kill(2);
        let (ever, last) = run(&mut Showing::new(floor, Content::Moving, seed), 150);
        assert_eq!(ever, killed, "{seed}");
        assert_eq!(faulty(&last), killed, "{seed}");
        assert!(good(&last) >= 24, "{seed}: {}", good(&last));
        assert!(last.shortfalls.is_empty(), "{seed}: {:?}", last.shortfalls);
    }
}

#[test]
fn a_whole_floor_raises_no_alarm_though_it_differs_from_what_is_told() {
    let kind = Kind {
        drift_a: 0.002,
        late_s: 0.02,
        ..small()
    };
    for seed in 0..3 {
        let mut showing = Showing::new(Floor::new(&kind, seed), Content::Moving, seed);
        let mut ever_good = [false; 32];
        for minute in 0..8 {
            let (ever, last) = run(&mut showing, 60);
            assert_eq!(ever, Vec::<usize>::new(), "{seed}");
            assert!(last.shortfalls.is_empty(), "{seed}");
            assert_eq!(last.sensors, [SensorWord::Fine]);
            for (ever, judged) in ever_good.iter_mut().zip(&last.judged) {
                *ever |= judged.condition == Condition::Good;
            }
            // One that differs more than most may be in doubt for a while.
            assert!(minute < 4 || good(&last) >= 29, "{seed}: {}", good(&last));
        }
        assert_eq!(ever_good, [true; 32], "{seed}");
    }
}

/// The baseline comes near to what the floor really is like.
#[test]
fn a_baseline_is_learnt_from_a_whole_floor() {
    let floor = Floor::new(&small(), 3);
    let mut showing = Showing::new(floor.clone(), Content::Moving, 3);
    let baseline = showing.learn(&floor, 600, 4);
    let base = &baseline.sensors[0];
    assert!(base.offset_sd_a < 0.1, "{base:?}");
    let off = |at: usize| base.gain * baseline.items[at].share - floor.gain(0) * floor.own(at);
    for at in 0..32 {
        assert!(baseline.items[at].sd < 0.029, "{:?}", baseline.items[at]);
        // Four deviations.
        assert!(
            off(at).abs() < 4.0 * baseline.items[at].sd,
            "{at}: {}",
            off(at)
        );
    }
    let all: f64 = (0..32).map(off).sum::<f64>() / 32.0;
    assert!(all.abs() < 0.002, "{all}");
}

#[test]
fn where_a_panel_is_in_one_colour_the_panel_and_its_share_are_named() {
    for (seed, dead) in [(0, 1), (1, 2), (2, 4)] {
        let mut floor = Floor::new(&small(), seed);
        for segment in 0..dead {
            floor.share[8 + segment] = 0.0;
        }
        let (ever, last) = run(&mut Showing::new(floor, Content::OneColour, seed), 60);
        assert_eq!(ever, Vec::<usize>::new(), "{seed}");
        let [short] = &last.shortfalls[..] else {
            panic!("{seed}: {:?}", last.shortfalls);
        };
        assert_eq!(short.panel, 1);
        assert_eq!(short.items, (8..16).collect::<Vec<u32>>());
        let share = f64::from(showing::small(dead)) / 8.0;
        assert!((short.share - share).abs() < 0.04, "{seed}: {short:?}");
        assert!(short.chance > 0.999);
    }
}

/// A light that never changes says nothing of segments.
#[test]
fn poor_content_leaves_everything_unknown() {
    for seed in 0..3 {
        let mut floor = Floor::new(&small(), seed);
        floor.kill(1);
        let (ever, last) = run(&mut Showing::new(floor, Content::Still, seed), 60);
        assert_eq!((ever, good(&last)), (Vec::new(), 0), "{seed}");
    }
}

#[test]
fn what_a_frozen_sensor_reads_is_not_believed() {
    for seed in 0..3 {
        let mut showing = Showing::new(Floor::new(&small(), seed), Content::Moving, seed);
        let mut held = None;
        for second in 0..120 {
            let findings = showing.second(|read| {
                if second >= 40 {
                    read[0].1 = *held.get_or_insert(read[0].1);
                }
            });
            assert_eq!(faulty(findings), Vec::<usize>::new(), "{seed}: {second} s");
            assert!(findings.shortfalls.is_empty(), "{seed}: {second} s");
            if second > 50 {
                assert_eq!(findings.sensors, [SensorWord::Frozen], "{seed}: {second} s");
            }
        }
    }
}

#[test]
fn absurd_readings_and_silence_are_words_of_the_sensor() {
    let mut showing = Showing::new(Floor::new(&small(), 1), Content::Moving, 1);
    run(&mut showing, 10);
    for second in 0..20 {
        let findings = showing.second(|read| read[0].1 += 400.0);
        assert_eq!(faulty(findings), Vec::<usize>::new());
        if second > 3 {
            assert_eq!(findings.sensors, [SensorWord::Absurd]);
        }
    }
    for second in 0..20 {
        let findings = showing.second(Vec::clear);
        if second > 5 {
            assert_eq!(findings.sensors, [SensorWord::Silent]);
        }
    }
}

#[test]
fn a_feed_that_carries_nothing_has_every_item_dead() {
    for seed in 0..3 {
        let mut floor = Floor::new(&small(), seed);
        floor.share.fill(0.0);
        let (_, last) = run(&mut Showing::new(floor, Content::Moving, seed), 30);
        assert_eq!(last.sensors, [SensorWord::NothingFlows], "{seed}");
        assert_eq!(faulty(&last).len(), 32, "{seed}");
    }
}

#[test]
fn what_is_repaired_is_found_good_again() {
    for seed in 0..3 {
        let mut floor = Floor::new(&small(), seed);
        let killed = floor.kill(1);
        let mut showing = Showing::new(floor, Content::Moving, seed);
        assert_eq!(faulty(&run(&mut showing, 120).1), killed, "{seed}");
        showing.floor.share.fill(1.0);
        showing.show.repaired(&[showing::small(killed[0])]);
        let (ever, last) = run(&mut showing, 120);
        assert_eq!(ever, Vec::<usize>::new(), "{seed}");
        assert_eq!(last.judged[killed[0]].condition, Condition::Good, "{seed}");
    }
}
