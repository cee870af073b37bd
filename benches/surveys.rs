//! A thousand surveys of a made-up floor for each row of a table: `cargo bench --bench surveys`.
//!
//! `cargo bench --bench surveys -- ROW TRIALS FIRST` runs so many trials of the rows whose name holds
//! ROW, from that seed on. Seeds below 3,000,000 were used while thresholds were chosen; those from
//! there on were not.

#[path = "../tests/support/surveyed.rs"]
mod surveyed;

use std::sync::atomic::{AtomicU64, Ordering};

use litfloor::health::Condition;
use litfloor::health::survey::{End, Room};
use surveyed::{Chance, Is, Kind, Told, eight_sensors, faulty, one_sensor, survey, with_faults};

/// The first seed that no threshold was chosen by.
const FRESH: u64 = 3_000_000;

struct Row {
    name: &'static str,
    kind: Kind,
    faults: usize,
    weak: fn(&mut Chance) -> Is,
    trials: u64,
}

fn dead(_: &mut Chance) -> Is {
    Is::Dead
}

fn weak_or_dead(chance: &mut Chance) -> Is {
    if chance.even() < 0.5 {
        Is::Dead
    } else {
        Is::Weak(0.4 + 0.4 * chance.even())
    }
}

fn stuck(_: &mut Chance) -> Is {
    Is::Stuck(1.0)
}

/// One sensor, and no more than a quarter of what all segments draw may flow at once.
fn narrow() -> Kind {
    let kind = one_sensor();
    let items: Vec<u32> = (0..).take(kind.segments).collect();
    let rooms = vec![Room {
        room_a: 0.25 * 256.0 * kind.full_a,
        items,
    }];
    Kind { rooms, ..kind }
}

fn rows() -> Vec<Row> {
    let thorough = |kind: Kind, most_s| Kind {
        weak: true,
        most_s,
        ..kind
    };
    let row = |name, kind, faults, weak, trials| Row {
        name,
        kind,
        faults,
        weak,
        trials,
    };
    vec![
        row("one-sensor-dead", one_sensor(), 5, dead, 1_000),
        row("feeds-dead", eight_sensors(), 5, dead, 1_000),
        row(
            "feeds-weak",
            thorough(eight_sensors(), 120.0),
            5,
            weak_or_dead,
            1_000,
        ),
        row("one-sensor-good", one_sensor(), 0, dead, 1_000),
        row("feeds-good", eight_sensors(), 0, dead, 1_000),
        row(
            "feeds-weak-good",
            thorough(eight_sensors(), 120.0),
            0,
            dead,
            1_000,
        ),
        row("feeds-stuck", eight_sensors(), 1, stuck, 1_000),
        row("one-sensor-rooms", narrow(), 5, dead, 100),
        row(
            "one-sensor-weak",
            thorough(one_sensor(), 3_600.0),
            5,
            weak_or_dead,
            20,
        ),
    ]
}

fn main() {
    let words: Vec<String> = std::env::args()
        .skip(1)
        .filter(|word| !word.starts_with('-'))
        .collect();
    let wanted = words.first().map_or("", String::as_str);
    let trials: Option<u64> = words.get(1).and_then(|word| word.parse().ok());
    let first = words
        .get(2)
        .and_then(|word| word.parse().ok())
        .unwrap_or(FRESH);
    println!(
        "row              trials  exact  false  missed  unknown  decided  median s  90 % s  worst s  left"
    );
    for row in rows() {
        if row.name.contains(wanted) {
            let trials = trials.unwrap_or(row.trials);
            report(row.name, &run(&row, first, trials));
        }
    }
    if "one-at-a-time".contains(wanted) {
        one_at_a_time(trials.unwrap_or(100), first);
    }
}

/// What is so, and what was told.
type Outcome = (Vec<Is>, Told);

fn run(row: &Row, first: u64, trials: u64) -> Vec<Outcome> {
    let next = AtomicU64::new(first);
    let work = || {
        let mut done = Vec::new();
        loop {
            let seed = next.fetch_add(1, Ordering::Relaxed);
            if seed >= first + trials {
                return done;
            }
            let is = with_faults(row.kind.segments, row.faults, seed, row.weak);
            let told = survey(&row.kind, &is, seed);
            if std::env::var_os("WRONG").is_some() && faulty(&is) != told.faulty {
                let of = |list: &[usize]| {
                    list.iter()
                        .map(|at| (*at, is[*at], told.conditions[*at]))
                        .collect::<Vec<_>>()
                };
                println!(
                    "  seed {seed}: is {:?}, told {:?}",
                    of(&faulty(&is)),
                    of(&told.faulty)
                );
            }
            done.push((is, told));
        }
    };
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads).map(|_| scope.spawn(work)).collect();
        workers
            .into_iter()
            .flat_map(|worker| worker.join().unwrap())
            .collect()
    })
}

/// `exact`: surveys that named just what is faulty. `false`: surveys that named a good one. `missed`:
/// faulty ones that were called good, of all. `unknown`: segments of which nothing was said. `left`: how
/// far the time left, as told after a third of the survey, was from what it was, as a median share.
fn report(name: &str, outcomes: &[Outcome]) {
    let mut times: Vec<f64> = outcomes.iter().map(|(_, told)| told.spent_s).collect();
    let of =
        |what: &dyn Fn(&Outcome) -> bool| outcomes.iter().filter(|outcome| what(outcome)).count();
    let exact = of(&|(is, told)| faulty(is) == told.faulty);
    let alarm = of(&|(is, told)| told.faulty.iter().any(|&at| is[at] == Is::Good));
    let decided = of(&|(_, told)| told.end == End::Decided);
    let segments = || {
        outcomes
            .iter()
            .flat_map(|(is, told)| is.iter().zip(&told.conditions))
    };
    let missed = segments()
        .filter(|(is, told)| **is != Is::Good && **told == Condition::Good)
        .count();
    let unknown = segments()
        .filter(|(_, told)| **told == Condition::Unknown)
        .count();
    let all = segments().filter(|(is, _)| **is != Is::Good).count();
    let over_a = outcomes.iter().map(|(_, told)| told.worst_over_a);
    let over_a = over_a.fold(f64::NEG_INFINITY, f64::max);
    assert!(
        over_a <= 1e-9,
        "a pattern asked for {over_a} A more than a room has"
    );
    let mut off: Vec<f64> = outcomes
        .iter()
        .filter_map(|(_, told)| told.guess_s.map(|(guess, was)| (guess - was).abs() / was))
        .collect();
    println!(
        "{name:16} {:6} {exact:6} {alarm:6} {missed:3}/{all:<5} {unknown:6} {decided:8} {:9.1} {:7.1} {:8.1} {:5.2}",
        outcomes.len(),
        quantile(&mut times, 0.5),
        quantile(&mut times, 0.9),
        quantile(&mut times, 1.0),
        quantile(&mut off, 0.5),
    );
}

/// The smallest value that this share of all do not pass.
fn quantile(values: &mut [f64], share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let wanted = (1..=values.len()).find(|at| {
        f64::from(u32::try_from(*at).unwrap())
            >= share * f64::from(u32::try_from(values.len()).unwrap())
    });
    wanted.map_or(f64::NAN, |at| values[at - 1])
}

/// One segment after the other, each until Wald's test (1945) of dead against good is decided at the
/// same error rates: lit and dark in turn, because the offset is not known, and once more as if it were
/// known exactly, with no dark reading at all.
fn one_at_a_time(trials: u64, first: u64) {
    let kind = one_sensor();
    for (name, dark_known) in [("alone, dark between", false), ("alone, dark known", true)] {
        let mut times = Vec::new();
        let (mut wrong, mut segments) = (0, 0);
        for seed in first..first + trials {
            let is = with_faults(kind.segments, 5, seed, dead);
            let mut chance = Chance::new(seed);
            let gain = 1.0 + 0.01 * chance.normal();
            let offset_a = kind.offset_a * chance.normal();
            // Two readings to a pattern of 0.2 s.
            let mut pattern = |true_a: f64| {
                let mut reading = || {
                    let felt = gain * true_a + offset_a + kind.noise_a * chance.normal();
                    (felt / kind.step_a).round() * kind.step_a
                };
                f64::midpoint(reading(), reading())
            };
            let alarm = 1e-3 / f64::from(u32::try_from(kind.segments).unwrap());
            let (dead_at, good_at) = ((0.999_f64 / alarm).ln(), (1e-3_f64 / (1.0 - alarm)).ln());
            let mut spent_s = 0.0;
            for (number, condition) in is.iter().enumerate() {
                let own = 1.0
                    + 0.03 * Chance::new(seed * 1_000 + u64::try_from(number).unwrap()).normal();
                let true_a = if *condition == Is::Dead {
                    0.0
                } else {
                    kind.full_a * own
                };
                let mut ratio = 0.0;
                while ratio < dead_at && ratio > good_at {
                    let (rise, variance) = if dark_known {
                        spent_s += 0.2;
                        (pattern(true_a) - offset_a, kind.noise_a.powi(2) / 2.0)
                    } else {
                        spent_s += 0.4;
                        (pattern(true_a) - pattern(0.0), kind.noise_a.powi(2))
                    };
                    ratio += kind.full_a * (kind.full_a / 2.0 - rise) / variance;
                }
                segments += 1;
                wrong += usize::from((ratio >= dead_at) != (*condition == Is::Dead));
            }
            times.push(spent_s);
        }
        println!(
            "{name}: {trials} floors, {wrong} of {segments} segments wrong, median {:.0} s, 90 % {:.0} s",
            quantile(&mut times, 0.5),
            quantile(&mut times, 0.9)
        );
    }
}
