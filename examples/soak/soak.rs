//! The hours themselves.

#[path = "daemon.rs"]
mod daemon;
#[path = "faults.rs"]
mod faults;
#[path = "people.rs"]
mod people;
#[path = "stage.rs"]
mod stage;
#[path = "tally.rs"]
mod tally;
#[path = "verdict.rs"]
mod verdict;

use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

use clap::Parser;

use stage::Stage;

/// litfloor for hours among faults
#[derive(Debug, Parser)]
struct Options {
    /// How long, in minutes: a sixth with kills, a sixth and no less than twelve minutes to warm up, then what grows
    /// is watched, of which an hour tells more than a quarter of one
    #[arg(long, default_value_t = 30)]
    minutes: u64,
    /// Which faults come when
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// The program [default: the one beside this]
    #[arg(long)]
    litfloor: Option<PathBuf>,
}

pub(crate) fn main() -> ExitCode {
    let options = Options::parse();
    let program = options.litfloor.clone().unwrap_or_else(beside);
    let whole = Duration::from_secs(60 * options.minutes);
    println!(
        "{} for {} minutes, seed {}",
        program.display(),
        options.minutes,
        options.seed
    );
    let mut stage = Stage::set(program, options.seed);
    let begun = stage.clock.now();
    let mut part = Part::Kills;
    while stage.clock.now().us_since(begun) < micros(whole) {
        let now = Part::after(stage.clock.now().us_since(begun), micros(whole));
        if now != part && now == Part::WarmUp {
            faults::use_all(&mut stage);
        }
        part = now;
        // A quarter of a minute of trouble, then a moment of quiet in which all is counted.
        for _ in 0..8 {
            faults::make_one(&mut stage, part == Part::Kills);
        }
        stage.reconcile();
        if part == Part::Watched {
            stage.sample();
        }
    }
    let verdict = verdict::of(stage);
    println!("{verdict}");
    if verdict.holds() {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}

/// The ten minutes of the newest currents that litfloor keeps for browsers are full after that; in microseconds. Of a run that is too short for
/// it, half is warm-up.
const WARM: u64 = 12 * 60 * 1_000_000;

/// What a sixth, another sixth and the rest are for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    /// It is killed now and then.
    Kills,
    /// From now on it is one process, which takes the memory that it needs.
    WarmUp,
    /// From now on it takes no more.
    Watched,
}

impl Part {
    fn after(us: u64, whole_us: u64) -> Self {
        let kills = whole_us / 6;
        if us < kills {
            Self::Kills
        } else if us < kills + WARM.max(whole_us / 6).min(whole_us / 2) {
            Self::WarmUp
        } else {
            Self::Watched
        }
    }
}

fn micros(duration: Duration) -> u64 {
    u64::try_from(duration.as_micros()).unwrap_or(u64::MAX)
}

/// `target/release/examples/soak` has its program at `target/release/litfloor`.
fn beside() -> PathBuf {
    let own = std::env::current_exe().unwrap_or_default();
    let directory = own.parent().and_then(std::path::Path::parent);
    directory.map_or_else(|| "litfloor".into(), |directory| directory.join("litfloor"))
}
