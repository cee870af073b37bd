//! What is measured: each row with its floor and its load, litfloor and the bare forwarder in turn.

use std::io;
use std::time::{Duration, Instant};

use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;

use super::floor::Floor;
use super::load::{Flow, Rig, count, percentile};
use super::place::{Browsers, Place, Who, ask, free_port};
use super::play::look;
use super::table::{Goal, Row};
use super::{LINE_RATE, USUAL};

/// How often a console sends, a second.
const HERTZ: f64 = 44.0;

/// Levels at which the limits bind.
const BRIGHT: u8 = 255;

/// How long and how often is measured.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Effort {
    pub(crate) rounds: u32,
    pub(crate) span: Duration,
    pub(crate) line: Duration,
}

/// A name by which rows are chosen, and what measures them once.
pub(crate) struct Group {
    pub(crate) name: &'static str,
    /// Whether one round is enough.
    pub(crate) once: bool,
    measure: fn(&Bench) -> io::Result<Vec<Taken>>,
}

/// One figure, and what it is held against.
struct Taken {
    text: String,
    unit: &'static str,
    goal: Goal,
    first: Option<f64>,
    second: f64,
}

/// All groups, in the order of the table.
pub(crate) const GROUPS: [Group; 11] = [
    Group {
        name: "fast",
        once: false,
        measure: fast,
    },
    Group {
        name: "line",
        once: true,
        measure: line,
    },
    Group {
        name: "burst",
        once: false,
        measure: burst,
    },
    Group {
        name: "watched",
        once: false,
        measure: watched,
    },
    Group {
        name: "size",
        once: false,
        measure: size,
    },
    Group {
        name: "memory",
        once: true,
        measure: memory,
    },
    Group {
        name: "start",
        once: false,
        measure: start,
    },
    Group {
        name: "idle",
        once: false,
        measure: idle,
    },
    Group {
        name: "reload",
        once: false,
        measure: reload,
    },
    Group {
        name: "bound",
        once: false,
        measure: bound,
    },
    Group {
        name: "browser",
        once: false,
        measure: browser,
    },
];

/// What rows need.
pub(crate) struct Bench {
    pub(crate) place: Place,
    pub(crate) effort: Effort,
    /// Whether console and forwarder each keep to a processor.
    pub(crate) pinned: bool,
}

impl Bench {
    /// Measures a group once, and adds what was found to its rows. What can't be measured is said.
    pub(crate) fn round(&self, group: &Group, rows: &mut Vec<Row>) {
        let taken = match (group.measure)(self) {
            Ok(taken) => taken,
            Err(error) => {
                eprintln!("{} can't be measured: {error}", group.name);
                return;
            }
        };
        for taken in taken {
            let figures = (taken.first, taken.second);
            eprintln!("{}: {figures:.2?} {}", taken.text, taken.unit);
            if let Some(row) = rows.iter_mut().find(|row| row.text == taken.text) {
                row.taken.push(figures);
                continue;
            }
            rows.push(Row {
                text: taken.text,
                unit: taken.unit,
                goal: taken.goal,
                taken: vec![figures],
            });
        }
    }

    /// A forwarder that passes all on, and the load around it.
    fn settled(&self, who: Who, floor: Floor) -> io::Result<(Rig, super::process::Forwarder)> {
        let mut rig = Rig::new(floor.universes, USUAL, self.pinned)?;
        let forwarder = self.place.start(who, floor, rig.sink.port()?)?;
        rig.settle(&forwarder)?;
        Ok((rig, forwarder))
    }

    fn fast(&self, who: Who, universes: u32) -> io::Result<Flow> {
        let (mut rig, forwarder) = self.settled(who, Floor::of(universes))?;
        let flow = rig.as_fast_as_it_goes(&forwarder, self.effort.span)?;
        if flow.lost() > 0 {
            eprintln!("{who:?} lost {} of {}", flow.lost(), flow.sent);
        }
        Ok(flow)
    }
}

fn fast(bench: &Bench) -> io::Result<Vec<Taken>> {
    let of = |who| bench.fast(who, 1_024);
    let (bare, ours) = (of(Who::Bare)?, of(Who::Litfloor)?);
    let row = |text: &str, unit, goal, figure: fn(&Flow) -> f64| Taken {
        text: text.to_owned(),
        unit,
        goal,
        first: Some(figure(&bare)),
        second: figure(&ours),
    };
    Ok(vec![
        row(
            "lossless, 1,024 universes",
            "frames/s",
            Goal::Least(0.9),
            Flow::per_second,
        ),
        row(
            "processor time of that",
            "ns a frame",
            Goal::Most(1.15),
            Flow::ns_a_frame,
        ),
        row("share of a processor meanwhile", "%", Goal::Known, |flow| {
            100.0 * flow.busy()
        }),
    ])
}

fn line(bench: &Bench) -> io::Result<Vec<Taken>> {
    let of = |who| {
        let (mut rig, forwarder) = bench.settled(who, Floor::of(4_768))?;
        rig.evenly(&forwarder, LINE_RATE, bench.effort.line)
    };
    let (bare, ours) = (of(Who::Bare)?, of(Who::Litfloor)?);
    let offered = |flow: &Flow| count(flow.sent) / bench.effort.line.as_secs_f64();
    let seconds = bench.effort.line.as_secs();
    Ok(vec![
        Taken {
            text: format!("lost at the rate of gigabit Ethernet, {seconds} s, 4,768 universes"),
            unit: "frames",
            goal: Goal::Within(0.0),
            first: Some(count(bare.lost())),
            second: count(ours.lost()),
        },
        Taken {
            text: "offered meanwhile".into(),
            unit: "frames/s",
            goal: Goal::Known,
            first: Some(offered(&bare)),
            second: offered(&ours),
        },
        Taken {
            text: "processor time of that rate".into(),
            unit: "ns a frame",
            goal: Goal::Known,
            first: Some(bare.ns_a_frame()),
            second: ours.ns_a_frame(),
        },
    ])
}

/// Median and 99th percentile of what bursts of 64 universes wait.
fn late(
    rig: &mut Rig,
    forwarder: &super::process::Forwarder,
    span: Duration,
) -> io::Result<[f64; 2]> {
    let (flow, late) = rig.bursts(forwarder, HERTZ, span)?;
    if late.is_empty() {
        let text = format!("no burst came out whole: {:?}", flow.arrived);
        return Err(io::Error::other(text));
    }
    Ok([0.5, 0.99].map(|share| percentile(&late, share)))
}

/// Two rows that were measured in one go, each with its name and its goal.
fn pair(
    text: &str,
    unit: &'static str,
    (first, second): ([f64; 2], [f64; 2]),
    rows: [(&str, Goal); 2],
) -> Vec<Taken> {
    let rows = rows.into_iter().zip(first.into_iter().zip(second));
    rows.map(|((name, goal), (first, second))| Taken {
        text: format!("{text}, {name}"),
        unit,
        goal,
        first: Some(first),
        second,
    })
    .collect()
}

fn burst(bench: &Bench) -> io::Result<Vec<Taken>> {
    let of = |who| {
        let (mut rig, forwarder) = bench.settled(who, Floor::of(64))?;
        late(&mut rig, &forwarder, 2 * bench.effort.span)
    };
    let (bare, ours) = (of(Who::Bare)?, of(Who::Litfloor)?);
    Ok(pair(
        "last in to last out, 64 universes at 44 Hz",
        "µs",
        (bare, ours),
        [("median", Goal::Most(1.2)), ("99 of 100", Goal::Most(1.5))],
    ))
}

fn watched(bench: &Bench) -> io::Result<Vec<Taken>> {
    let (mut rig, forwarder) = bench.settled(Who::Litfloor, Floor::of(64))?;
    let span = 2 * bench.effort.span;
    let alone = late(&mut rig, &forwarder, span)?;
    let http = forwarder
        .http
        .ok_or_else(|| io::Error::other("it serves nothing"))?;
    let browsers = Browsers::watch(http, 50)?;
    let seen = late(&mut rig, &forwarder, span)?;
    drop(browsers);
    Ok(pair(
        "the same with 50 browsers, held against none",
        "µs",
        (alone, seen),
        [("median", Goal::Known), ("99 of 100", Goal::Most(1.25))],
    ))
}

fn size(bench: &Bench) -> io::Result<Vec<Taken>> {
    let mut rows = Vec::new();
    for (who, name, goal) in [
        (Who::Litfloor, "litfloor", Goal::Most(1.2)),
        (Who::Bare, "the bare forwarder", Goal::Known),
    ] {
        let (small, large) = (bench.fast(who, 16)?, bench.fast(who, 4_096)?);
        rows.push(Taken {
            text: format!("{name} with 4,096 universes, held against 16"),
            unit: "ns a frame",
            goal,
            first: Some(small.ns_a_frame()),
            second: large.ns_a_frame(),
        });
    }
    Ok(rows)
}

fn memory(bench: &Bench) -> io::Result<Vec<Taken>> {
    let mut rows = Vec::new();
    for universes in [64, 592, 5_888] {
        let floor = Floor::of(universes);
        let mut rig = Rig::new(universes, USUAL, bench.pinned)?;
        let forwarder = bench.place.start(Who::Litfloor, floor, rig.sink.port()?)?;
        rig.meet(&forwarder)?;
        let rate = (HERTZ * f64::from(universes)).min(40_000.0);
        rig.evenly(&forwarder, rate, bench.effort.span)?;
        let allowed = (15 << 20) + 64 * u64::from(floor.pixels());
        let mib = |bytes| count(bytes) / f64::from(1 << 20);
        rows.push(Taken {
            text: format!(
                "resident, {} pixels; allowed: 15 MiB + 64 bytes each",
                floor.pixels()
            ),
            unit: "MiB",
            goal: Goal::Most(1.0),
            first: Some(mib(allowed)),
            second: mib(forwarder.resident()?),
        });
    }
    Ok(rows)
}

fn start(bench: &Bench) -> io::Result<Vec<Taken>> {
    let of = |who| -> io::Result<f64> {
        let floor = Floor::of(592);
        let mut rig = Rig::new(floor.universes, USUAL, bench.pinned)?;
        let at = free_port()?;
        rig.console.aim(at)?;
        let port = rig.sink.port()?;
        let began = Instant::now();
        std::thread::scope(|scope| {
            let place = &bench.place;
            let starting = scope.spawn(move || place.start_at(who, floor, port, at));
            let first = rig.until_first(HERTZ * f64::from(floor.universes), began);
            let forwarder = starting
                .join()
                .map_err(|_| io::Error::other("it panicked"))??;
            drop(forwarder);
            Ok(1e3 * first?.as_secs_f64())
        })
    };
    let (bare, ours) = (of(Who::Bare)?, of(Who::Litfloor)?);
    Ok(vec![Taken {
        text: "start to first forwarded frame, 100,640 pixels".into(),
        unit: "ms",
        goal: Goal::Within(100.0),
        first: Some(bare),
        second: ours,
    }])
}

fn idle(bench: &Bench) -> io::Result<Vec<Taken>> {
    let of = |who| -> io::Result<[f64; 2]> {
        let (mut rig, forwarder) = bench.settled(who, Floor::of(16))?;
        let mut busy = |changing| {
            rig.console.changing = changing;
            let (flow, _) = rig.bursts(&forwarder, HERTZ, 2 * bench.effort.span)?;
            Ok::<_, io::Error>(100.0 * flow.busy())
        };
        Ok([busy(true)?, busy(false)?])
    };
    let (bare, ours) = (of(Who::Bare)?, of(Who::Litfloor)?);
    Ok(pair(
        "16 universes at 44 Hz, nobody looks",
        "% of a processor",
        (bare, ours),
        [
            ("a moving picture", Goal::Known),
            ("a still picture", Goal::Most(1.3)),
        ],
    ))
}

fn reload(bench: &Bench) -> io::Result<Vec<Taken>> {
    // Ten panels to a universe: 10,080.
    let floor = Floor {
        universes: 1_008,
        panels_each: 10,
    };
    let (mut rig, forwarder) = bench.settled(Who::Litfloor, floor)?;
    let rate = HERTZ * f64::from(floor.universes);
    let http = forwarder
        .http
        .ok_or_else(|| io::Error::other("it serves nothing"))?;
    let revision = || -> io::Result<String> {
        let state = ask(http, "GET", "/api/v1/state", "")?;
        let after = state.split("\"revision\":").nth(1).unwrap_or_default();
        Ok(after.chars().take_while(char::is_ascii_digit).collect())
    };
    rig.sink.stamp(true)?;
    let quiet = rig.evenly(&forwarder, rate, bench.effort.span)?;
    let before = revision()?;
    let other = floor
        .file(rig.sink.port()?)
        .replace("\"Bench\"", "\"Bench again\"");
    bench.place.write(&other)?;
    let id = i32::try_from(forwarder.id()).map_err(io::Error::other)?;
    kill(Pid::from_raw(id), Signal::SIGHUP)?;
    let under = rig.evenly(&forwarder, rate, 2 * bench.effort.span)?;
    rig.sink.stamp(false)?;
    if revision()? == before {
        return Err(io::Error::other("the new floor has not taken over"));
    }
    Ok(vec![
        Taken {
            text: "lost while 10,080 panels are read again, held against as quiet a time".into(),
            unit: "frames",
            goal: Goal::Within(0.0),
            first: Some(count(quiet.lost())),
            second: count(under.lost()),
        },
        Taken {
            text: "worst gap between any two frames meanwhile".into(),
            unit: "ms",
            goal: Goal::Within(5.0),
            first: Some(1e3 * quiet.arrived.gap.as_secs_f64()),
            second: 1e3 * under.arrived.gap.as_secs_f64(),
        },
    ])
}

/// Frames of which many leave dimmer: their stamps can't be read, so what counts is what was sent.
fn bound(bench: &Bench) -> io::Result<Vec<Taken>> {
    let of = |who| -> io::Result<f64> {
        let floor = Floor::of(1_024);
        let mut rig = Rig::new(floor.universes, BRIGHT, bench.pinned)?;
        let forwarder = bench.place.start(who, floor, rig.sink.port()?)?;
        rig.meet(&forwarder)?;
        let rate = HERTZ * f64::from(floor.universes);
        rig.evenly(&forwarder, rate, bench.effort.span)?;
        let flow = rig.evenly(&forwarder, rate, bench.effort.span)?;
        Ok(1e9 * flow.cpu.as_secs_f64() / count(flow.sent))
    };
    let (bare, ours) = (of(Who::Bare)?, of(Who::Litfloor)?);
    Ok(vec![Taken {
        text: "1,024 universes at 44 Hz where the limits bind".into(),
        unit: "ns a frame sent in",
        goal: Goal::Known,
        first: Some(bare),
        second: ours,
    }])
}

/// A floor page in Chromium, as large as a desk's screen and as a phone's.
fn browser(bench: &Bench) -> io::Result<Vec<Taken>> {
    let mut rows = Vec::new();
    for seen in look(&bench.place, bench.effort.span)? {
        let text = |key: &str| seen[key].as_str().unwrap_or_default();
        let what = format!(
            "100,640 pixels in a browser ({}), {}",
            text("size"),
            text("content")
        );
        for (name, key, times, unit, goal) in [
            // The daemon sends 30; a look of a few seconds may begin and end between two.
            ("drawn", "drawn_per_s", 1.0, "pictures/s", Goal::From(29.5)),
            (
                "its main thread",
                "main_thread",
                100.0,
                "%",
                Goal::Within(50.0),
            ),
            ("what comes", "mb_per_s", 1.0, "MB/s", Goal::Known),
            (
                "litfloor beside its frames",
                "daemon_rest",
                100.0,
                "%",
                Goal::Known,
            ),
        ] {
            // Least, median and most of one look are the same.
            let figure = seen[key][1].as_f64();
            let figure = figure.ok_or_else(|| io::Error::other(format!("there is no {key}")))?;
            rows.push(Taken {
                text: format!("{what}: {name}"),
                unit,
                goal,
                first: None,
                second: times * figure,
            });
        }
    }
    Ok(rows)
}
