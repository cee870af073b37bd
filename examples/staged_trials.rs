//! Shows on a small floor with all that lies between console and sensor: `cargo run --release --example
//! staged_trials`. Engine, survey and node run as in the program, on a made-up clock; what flows is what
//! `sim/real.rs` says.
//!
//! A wired network loses one datagram in a thousand, a poor one one in a hundred, a lossy one one in ten.
//! `-- ROW TRIALS FIRST` runs so many trials of the rows whose name holds ROW, from that seed on. Seeds
//! below 5,000 were used while rules were chosen.

#![allow(unreachable_pub, reason = "what these modules share with tests")]

#[path = "../tests/survey/bench.rs"]
#[allow(dead_code, reason = "made for surveys")]
mod bench;
#[path = "../tests/show/stage.rs"]
#[allow(dead_code, reason = "made for tests")]
mod stage;
#[path = "../tests/support/mod.rs"]
mod support;

use litfloor::health::snapshot::Cause;
use litfloor::sim::link::Chance;
use litfloor::sim::real::faults::{Fault, Spot};
use stage::Stage;

fn opens(name: &str, loss: f64, trials: u64, first: u64) {
    let (mut panel_10, mut panel_20, mut right, mut elsewhere) = (0, 0, 0, 0);
    for seed in first..first + trials {
        let mut chance = Chance::new(seed ^ 0x0be4);
        let mut stage = Stage::with_loss(seed, loss);
        stage.survey();
        stage.play(30 + chance.up_to(30));
        let joint = Spot {
            panel: usize::try_from(chance.up_to(7)).unwrap(),
            segment: usize::try_from(1 + chance.up_to(2)).unwrap(),
        };
        let before = stage.faults();
        stage.breaks(&[(joint, Fault::SupplyOpen)]);
        let row = char::from(b'A' + u8::try_from(joint.panel % 4).unwrap());
        let position = format!("{row}{}", 1 + joint.panel / 4);
        let (mut named_s, mut wrong) = (None, Vec::new());
        for second in 1..=60 {
            stage.play(1);
            for fault in &stage.health.faults {
                if fault.position.as_deref() == Some(&position) {
                    named_s.get_or_insert(second);
                } else if !wrong.contains(&fault.place) {
                    wrong.push(fault.place.clone());
                }
            }
        }
        let place = format!(
            "{position}, joint between segments {} and {}, supply side",
            joint.segment,
            joint.segment + 1
        );
        let faults = &stage.health.faults;
        let is_right = faults
            .iter()
            .any(|one| one.place == place && one.cause == Cause::SupplyOpen);
        panel_10 += u32::from(named_s.is_some_and(|s| s <= 10));
        panel_20 += u32::from(named_s.is_some_and(|s| s <= 20));
        right += u32::from(is_right);
        elsewhere += u32::from(!wrong.is_empty());
        println!(
            "  {seed}: {place} after {named_s:?}, right {is_right}: {:?}; wrong {wrong:?} {before:?}",
            stage.faults()
        );
    }
    println!(
        "{name}: {trials} trials from seed {first}; panel within 10 s {panel_10}, 20 s {panel_20}; place right \
         after a minute {right}; another panel named in {elsewhere}"
    );
}

fn whole(name: &str, loss: f64, trials: u64, first: u64) {
    let mut alarms = 0;
    for seed in first..first + trials {
        let mut stage = Stage::with_loss(seed, loss);
        stage.survey();
        let mut named = Vec::new();
        for _ in 0..600 {
            stage.play(1);
            for place in stage.faults() {
                if !named.contains(&place) {
                    named.push(place);
                }
            }
        }
        alarms += u32::from(!named.is_empty());
        if !named.is_empty() {
            println!("  {seed}: {named:?}");
        }
    }
    println!("{name}: {trials} shows of 10 minutes from seed {first}; with a false alarm {alarms}");
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let wanted = words.first().map_or("", String::as_str);
    let number = |at: usize| words.get(at).and_then(|word| word.parse().ok());
    let (trials, first) = (number(1).unwrap_or(50), number(2).unwrap_or(5_000));
    for (loss, name) in [(0.001, "wired"), (0.01, "poor"), (0.1, "lossy")] {
        let opens_name = format!("{name}-opens");
        if opens_name.contains(wanted) {
            opens(&opens_name, loss, trials, first);
        }
        let whole_name = format!("{name}-whole");
        if whole_name.contains(wanted) {
            whole(&whole_name, loss, trials, first);
        }
    }
}
