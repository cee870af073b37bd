//! Shows of a made-up floor, row by row of a table: `cargo run --release --example show_trials`.
//!
//! `-- ROW TRIALS FIRST` runs so many trials of the rows whose name holds ROW, from that seed on. Seeds
//! below 3,000,000 were used while thresholds were chosen; those from there on were not.

#![expect(clippy::disallowed_methods, reason = "it tells what looking costs")]

#[path = "../tests/support/dice.rs"]
mod dice;
#[path = "../tests/support/showing.rs"]
mod showing;

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Instant;

use litfloor::health::Condition;
use showing::{Content, Floor, Kind, Showing, eight_sensors, one_sensor};

/// The first seed that no threshold was chosen by.
const FRESH: u64 = 3_000_000;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let wanted = words.first().map_or("", String::as_str);
    let trials: Option<u64> = words.get(1).and_then(|word| word.parse().ok());
    let first = words
        .get(2)
        .and_then(|word| word.parse().ok())
        .unwrap_or(FRESH);
    let is_wanted = |name: &str| name.contains(wanted);
    for (name, kind, learn_s, most_s, usual) in [
        ("feeds-dead", eight_sensors(), 900, 600, 200),
        ("one-sensor-dead", one_sensor(), 900, 3_600, 100),
        ("feeds-dead-unlearnt", eight_sensors(), 0, 600, 200),
    ] {
        if is_wanted(name) {
            dead(
                name,
                &kind,
                (learn_s, most_s),
                first,
                trials.unwrap_or(usual),
            );
        }
    }
    let harder = |kind: Kind| Kind {
        drift_a: 0.02 * kind.noise_a,
        droop: 0.01,
        late_s: 0.03,
        ..kind
    };
    for (name, kind) in [
        ("feeds-good", eight_sensors()),
        ("one-sensor-good", one_sensor()),
        ("feeds-harder-good", harder(eight_sensors())),
        ("one-sensor-harder-good", harder(one_sensor())),
    ] {
        if is_wanted(name) {
            good(name, &kind, first, trials.unwrap_or(100));
        }
    }
    if is_wanted("one-colour") {
        one_colour(first, trials.unwrap_or(100));
    }
}

/// Works seeds off in parallel.
fn each<T: Send>(first: u64, trials: u64, work: impl Fn(u64) -> T + Sync) -> Vec<T> {
    let next = AtomicU64::new(first);
    let one = || {
        let mut done = Vec::new();
        loop {
            let seed = next.fetch_add(1, Ordering::Relaxed);
            if seed >= first + trials {
                return done;
            }
            done.push(work(seed));
        }
    };
    let threads = std::env::var("THREADS")
        .ok()
        .and_then(|word| word.parse().ok());
    let threads =
        threads.unwrap_or_else(|| std::thread::available_parallelism().map_or(1, usize::from));
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads).map(|_| scope.spawn(one)).collect();
        workers
            .into_iter()
            .flat_map(|worker| worker.join().unwrap())
            .collect()
    })
}

fn faulty(condition: Condition) -> bool {
    !matches!(condition, Condition::Good | Condition::Unknown)
}

/// Five dead from the start: when all of them are named, and whether a good one ever is.
fn dead(name: &str, kind: &Kind, (learn_s, most_s): (u64, u64), first: u64, trials: u64) {
    let begun = Instant::now();
    let told = each(first, trials, |seed| {
        let floor = Floor::new(kind, seed);
        let mut broken = floor.clone();
        let killed = broken.kill(5);
        let mut showing = Showing::new(broken, Content::Moving, seed);
        if learn_s > 0 {
            showing.learn(&floor, learn_s, seed ^ 0xba5e);
        }
        let (mut each_s, mut wrong) = (vec![f64::INFINITY; killed.len()], Vec::new());
        for second in 1..=most_s {
            let findings = showing.second(|_| {}).clone();
            for (at, judged) in findings.judged.iter().enumerate() {
                if faulty(judged.condition) {
                    match killed.iter().position(|one| *one == at) {
                        Some(one) => {
                            each_s[one] =
                                each_s[one].min(f64::from(u32::try_from(second).unwrap()));
                        }
                        None if !wrong.contains(&at) => wrong.push(at),
                        None => {}
                    }
                }
            }
            if std::env::var_os("WRONG").is_some() && !wrong.is_empty() && second % 5 == 0 {
                let all: Vec<_> = findings
                    .judged
                    .iter()
                    .enumerate()
                    .filter(|(_, j)| faulty(j.condition))
                    .collect();
                println!(
                    "seed {seed} {second} s: dead {killed:?} told {all:?} misfit {}",
                    showing.show.misfit()
                );
            }
            if second > 60 && each_s.iter().all(|s| s.is_finite()) {
                break;
            }
        }
        if !wrong.is_empty() {
            println!("  seed {seed}: dead {killed:?}, wrong {wrong:?}");
        }
        (each_s, wrong.len())
    });
    let mut all: Vec<f64> = told
        .iter()
        .map(|(each_s, _)| each_s.iter().copied().fold(0.0, f64::max))
        .collect();
    let mut single: Vec<f64> = told.iter().flat_map(|(each_s, _)| each_s.clone()).collect();
    let wrong = told.iter().filter(|(_, wrong)| *wrong > 0).count();
    println!(
        "{name}: {trials} shows from seed {first}, all five named: median {:.0} s, 90 % {:.0} s, 95 % {:.0} s, worst {:.0} s; each: median {:.0} s, 90 % {:.0} s; shows that named a good one: {wrong} ({:.0} s of work)",
        quantile(&mut all, 0.5),
        quantile(&mut all, 0.9),
        quantile(&mut all, 0.95),
        quantile(&mut all, 1.0),
        quantile(&mut single, 0.5),
        quantile(&mut single, 0.9),
        begun.elapsed().as_secs_f64(),
    );
}

/// An hour for each seed of a floor that is whole, without a baseline for the first half of it.
fn good(name: &str, kind: &Kind, first: u64, hours: u64) {
    let begun = Instant::now();
    let told = each(first, hours, |seed| {
        let mut showing = Showing::new(Floor::new(kind, seed), Content::Moving, seed);
        let (mut alarms, mut known, mut worst) = (Vec::new(), 0, std::time::Duration::ZERO);
        let mut misfit: f64 = 0.0;
        for second in 0..3_600 {
            let before = Instant::now();
            let findings = showing.second(|_| {}).clone();
            worst = worst.max(before.elapsed());
            for (at, judged) in findings.judged.iter().enumerate() {
                if faulty(judged.condition) && !alarms.contains(&at) {
                    alarms.push(at);
                    if std::env::var_os("WRONG").is_some() {
                        println!("  seed {seed}, {second} s: {at} {judged:?}");
                    }
                }
            }
            alarms.extend(
                findings
                    .shortfalls
                    .iter()
                    .map(|one| 10_000 + one.panel as usize),
            );
            known = findings
                .judged
                .iter()
                .filter(|judged| judged.condition == Condition::Good)
                .count();
            if second == 1_800 {
                let baseline = showing.show.baseline();
                showing.show.learn(baseline);
            }
            misfit = misfit.max(showing.show.misfit());
        }
        alarms.sort_unstable();
        alarms.dedup();
        if !alarms.is_empty() {
            println!("  seed {seed}: named {alarms:?}");
        }
        (alarms.len(), known, worst, misfit)
    });
    let alarms: usize = told.iter().map(|(alarms, ..)| *alarms).sum();
    let with = told.iter().filter(|(alarms, ..)| *alarms > 0).count();
    let least = told.iter().map(|(_, known, ..)| *known).min().unwrap_or(0);
    let worst = told
        .iter()
        .map(|(_, _, worst, _)| *worst)
        .max()
        .unwrap_or_default();
    let misfit = told
        .iter()
        .map(|(_, _, _, misfit)| *misfit)
        .fold(0.0, f64::max);
    println!(
        "{name}: {hours} h from seed {first}, false alarms {alarms} in {with} hours; known to be good at the end {least} or more; misfit up to {misfit:.2}; longest second {:.1} ms ({:.0} s of work)",
        worst.as_secs_f64() * 1e3,
        begun.elapsed().as_secs_f64(),
    );
}

/// Panels in one colour, one segment or two of a panel dead: the panel and its share.
fn one_colour(first: u64, trials: u64) {
    let kind = eight_sensors();
    let told = each(first, trials, |seed| {
        let floor = Floor::new(&kind, seed);
        let mut broken = floor.clone();
        let panel = usize::try_from(seed * 7 % 32).unwrap();
        let dead = 1 + usize::try_from(seed % 2).unwrap();
        for segment in 0..dead {
            broken.share[panel * 8 + 3 * segment] = 0.0;
        }
        let mut showing = Showing::new(broken, Content::OneColour, seed);
        showing.learn(&floor, 900, seed ^ 0xba5e);
        let share = f64::from(u32::try_from(dead).unwrap()) / 8.0;
        let (mut named_s, mut off, mut wrong) = (f64::INFINITY, 0.0, 0);
        for second in 1..=300_u32 {
            let findings = showing.second(|_| {}).clone();
            wrong += findings
                .judged
                .iter()
                .filter(|judged| faulty(judged.condition))
                .count();
            for short in &findings.shortfalls {
                if short.panel as usize == panel {
                    named_s = f64::from(second).min(named_s);
                    off = (short.share - share).abs();
                } else {
                    wrong += 1;
                }
            }
        }
        (named_s, off, wrong)
    });
    let mut times: Vec<f64> = told.iter().map(|(named_s, ..)| *named_s).collect();
    let mut off: Vec<f64> = told.iter().map(|(_, off, _)| *off).collect();
    let wrong = told.iter().filter(|(.., wrong)| *wrong > 0).count();
    println!(
        "one-colour: {trials} shows from seed {first}, panel named: median {:.0} s, 90 % {:.0} s, worst {:.0} s; share off by {:.3} in the median, {:.3} at worst; shows that named anything else: {wrong}",
        quantile(&mut times, 0.5),
        quantile(&mut times, 0.9),
        quantile(&mut times, 1.0),
        quantile(&mut off, 0.5),
        quantile(&mut off, 1.0),
    );
}

/// The smallest value that this share of all do not pass.
fn quantile(values: &mut [f64], share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let number = |at: usize| f64::from(u32::try_from(at).unwrap());
    let wanted = (1..=values.len()).find(|at| number(*at) >= share * number(values.len()));
    wanted.map_or(f64::NAN, |at| values[at - 1])
}
