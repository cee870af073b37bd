//! What can be asked for on the command line.

#![expect(
    clippy::disallowed_methods,
    reason = "a console and nodes with sockets and a clock"
)]

mod bare;
mod browsers;
mod console;
mod floor;
mod load;
mod place;
mod play;
mod process;
mod rows;
mod sink;
mod table;

use std::io;
use std::net::SocketAddrV4;
use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::{Parser, Subcommand, ValueEnum};
use litfloor::net::batch::Way;

use floor::Floor;
use load::{Rig, percentile};
use place::{Place, Who};
use rows::{Bench, Effort, GROUPS};

#[derive(Debug, Parser)]
struct Line {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Forward, bare
    Bare {
        /// The port of all nodes
        port: u16,
        /// Where to listen
        #[arg(long, default_value = "127.0.0.1:0")]
        artnet: SocketAddrV4,
        /// One by one, without batches
        #[arg(long)]
        plain: bool,
    },
    /// Watch a floor with so many browsers
    Browsers {
        /// Where it is served
        at: SocketAddrV4,
        /// How many
        count: u32,
    },
    /// Measure all, and write target/bench/wire.md and wire.json
    Run {
        /// A short look: one round
        #[arg(long)]
        quick: bool,
        /// Let console and forwarder run where the system puts them
        #[arg(long)]
        loose: bool,
        /// How many rounds
        #[arg(long)]
        rounds: Option<u32>,
        /// Only these rows: fast, line, burst, watched, size, memory, start, idle, reload, bound,
        /// browser
        #[arg(long, value_delimiter = ',')]
        rows: Vec<String>,
        /// The program [default: litfloor, one folder up]
        #[arg(long)]
        litfloor: Option<PathBuf>,
        /// Where the table is written
        #[arg(long, default_value = "target/bench")]
        into: PathBuf,
    },
    /// Play on litfloor with 100,640 pixels, for browsers, until standard input ends
    Play {
        /// How many of a hundred universes move
        #[arg(long, default_value_t = 100)]
        moving: usize,
        /// Levels move by a little with every frame, in place of any
        #[arg(long)]
        glide: bool,
        /// Frames a second
        #[arg(long, default_value_t = 44.0)]
        hertz: f64,
        /// The program [default: litfloor, one folder up]
        #[arg(long)]
        litfloor: Option<PathBuf>,
    },
    /// Put one forwarder under one load
    Load {
        /// Which forwarder
        who: Who,
        /// Which load
        #[arg(long, value_enum, default_value_t = Load::Fast)]
        load: Load,
        /// How many universes
        #[arg(long, default_value_t = 1_024)]
        universes: u32,
        /// The brightest level; above some 130 the limits bind
        #[arg(long, default_value_t = USUAL)]
        brightest: u8,
        /// For how long, in seconds
        #[arg(long, default_value_t = 5.0)]
        seconds: f64,
        /// Frames a second of an even load
        #[arg(long, default_value_t = LINE_RATE)]
        rate: f64,
        /// Keep console and forwarder each on a processor
        #[arg(long)]
        pin: bool,
        /// The program [default: litfloor, one folder up]
        #[arg(long)]
        litfloor: Option<PathBuf>,
    },
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Load {
    /// As much as it takes
    Fast,
    /// So many frames a second
    Even,
    /// All universes back to back, 44 times a second
    Bursts,
}

/// Levels up to this: no limit binds.
const USUAL: u8 = 100;

/// Full `ArtDmx` frames a second that gigabit Ethernet carries: 10^9 / 8 / (530 + 28 + 38) bytes.
const LINE_RATE: f64 = 209_731.0;

pub(crate) fn follow() -> io::Result<()> {
    match Line::parse().what {
        What::Bare {
            port,
            artnet,
            plain,
        } => {
            let way = if plain { Way::Plain } else { Way::best() };
            bare::forward(port, artnet, way)
        }
        What::Browsers { at, count } => browsers::watch(at, count),
        What::Play {
            moving,
            glide,
            hertz,
            litfloor,
        } => play::play(litfloor, moving, glide, hertz),
        What::Run {
            quick,
            loose,
            rounds,
            rows,
            litfloor,
            into,
        } => {
            let effort = Effort {
                rounds: rounds.unwrap_or(if quick { 1 } else { 5 }),
                span: Duration::from_secs(if quick { 2 } else { 5 }),
                line: Duration::from_secs(if quick { 5 } else { 60 }),
            };
            let place = Place::new(litfloor)?;
            let pinned = !loose;
            run(
                &Bench {
                    place,
                    effort,
                    pinned,
                },
                &rows,
                &into,
            )
        }
        What::Load {
            who,
            load,
            universes,
            brightest,
            seconds,
            rate,
            pin,
            litfloor,
        } => {
            let mut rig = Rig::new(universes, brightest, pin)?;
            let place = Place::new(litfloor)?;
            let forwarder = place.start(who, Floor::of(universes), rig.sink.port()?)?;
            println!("{who:?} runs as process {}", forwarder.id());
            if brightest <= USUAL {
                rig.settle(&forwarder)?;
            } else {
                rig.meet(&forwarder)?;
            }
            let span = Duration::from_secs_f64(seconds);
            let flow = match load {
                Load::Fast => rig.as_fast_as_it_goes(&forwarder, span)?,
                Load::Even => rig.evenly(&forwarder, rate, span)?,
                Load::Bursts => {
                    let (flow, late) = rig.bursts(&forwarder, 44.0, span)?;
                    let [middle, high] = [0.5, 0.99].map(|share| percentile(&late, share));
                    println!(
                        "{} bursts: p50 {middle:.1} µs, p99 {high:.1} µs",
                        late.len()
                    );
                    flow
                }
            };
            println!(
                "{:.0} frames/s, {} lost of {}, {:.0} ns a frame, {:.0} % of a processor, {} MiB\n{:?}",
                flow.per_second(),
                flow.lost(),
                flow.sent,
                flow.ns_a_frame(),
                100.0 * flow.busy(),
                forwarder.resident()? >> 20,
                flow.arrived,
            );
            Ok(())
        }
    }
}

/// Measures the rows that are wanted, or all, and writes the table after every round.
fn run(bench: &Bench, wanted: &[String], into: &Path) -> io::Result<()> {
    if let Some(unknown) = wanted
        .iter()
        .find(|name| GROUPS.iter().all(|group| group.name != **name))
    {
        let known: Vec<_> = GROUPS.iter().map(|group| group.name).collect();
        let text = format!(
            "there are no rows {unknown:?}; there are {}",
            known.join(", ")
        );
        return Err(io::Error::other(text));
    }
    let Effort { rounds, span, line } = bench.effort;
    let about = format!(
        "Console, forwarder and nodes over the loopback of this machine; the console and the nodes \
         share a thread. {rounds} rounds of {} s each, in turn with the bare forwarder ({} s at the \
         line rate, memory and line rate once). Medians, with least and most in parentheses; a ratio \
         is taken in each round. The bare forwarder uses the same batches and nodes, and nothing else. {}",
        span.as_secs(),
        line.as_secs(),
        if bench.pinned {
            "The console keeps to the last processor, the forwarder's thread to the first."
        } else {
            "All run where the system puts them."
        },
    );
    let mut rows: Vec<_> = GROUPS.iter().map(|_| Vec::new()).collect();
    for round in 0..rounds {
        eprintln!("Round {} of {rounds}", round + 1);
        for (group, rows) in GROUPS.iter().zip(&mut rows) {
            let is_wanted = wanted.is_empty() || wanted.iter().any(|name| name == group.name);
            if is_wanted && (round == 0 || !group.once) {
                bench.round(group, rows);
            }
        }
        let text = table::write(&rows.concat(), &about, into)?;
        if round + 1 == rounds {
            println!("{text}");
        }
    }
    println!(
        "Written to {} and wire.json beside it.",
        into.join("wire.md").display()
    );
    Ok(())
}
