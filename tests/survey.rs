//! A survey on a floor that runs, on a made-up clock: over a network that loses, delays and doubles
//! datagrams, with sensors that waver, lag, mean over their period and speak in steps.
//!
//! What really flows is what `sim/real.rs` says, which shares no code with what reckons in litfloor.

#[path = "survey/bench.rs"]
mod bench;
mod support;

use bench::{Bench, SENSORS};
use litfloor::engine::command::Command;
use litfloor::engine::survey::state::Ended;
use litfloor::pattern::{Start, TestPattern};

#[test]
fn the_dead_segments_are_found_and_no_other() {
    for seed in [1, 2, 3] {
        let mut bench = Bench::new(&bench::floor(SENSORS), seed);
        let broken = bench.break_some(3);
        bench.survey(None);
        bench.run_to_its_end();
        let state = bench.state();
        let outcome = state.outcome.unwrap();
        assert_eq!(outcome.ended, Ended::Decided, "{outcome:?}");
        let found: Vec<_> = outcome
            .dead
            .iter()
            .map(|one| (one.position.clone(), one.segment))
            .collect();
        assert_eq!(found, broken, "{}", outcome.text);
        assert!(
            outcome.weak.is_empty() && outcome.stuck.is_empty(),
            "{outcome:?}"
        );
        println!(
            "seed {seed}: {} lights in {:.1} s: {}",
            state.pattern, state.spent_s, outcome.text
        );
        // The console's picture shows again.
        assert!(bench.world.engine.state(bench.world.now).pattern.is_none());
    }
}

#[test]
fn who_may_not_begin_is_told_why() {
    let mut bench = Bench::new(&bench::floor(SENSORS), 1);
    bench.world.command(Command::Calibrate).unwrap();
    assert_eq!(bench.refused(), "calibrating");
    bench.world.command(Command::StopCalibration).unwrap();
    let all = Start::new(TestPattern::All);
    bench.world.command(Command::Start(all)).unwrap();
    assert_eq!(bench.refused(), "pattern_on");
    bench.world.command(Command::Stop).unwrap();
    bench.survey(None);
    assert_eq!(bench.refused(), "surveying");
}
