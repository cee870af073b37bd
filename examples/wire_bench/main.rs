//! litfloor held against a bare forwarder that receives, sends on and does nothing else, over the
//! loopback of this machine, in turn: `make bench`, or
//! `cargo run --release --example wire_bench -- run`.
//!
//! `load` puts one forwarder under one load, for a profiler to look at.

#![expect(
    clippy::disallowed_methods,
    reason = "a console and nodes with sockets and a clock"
)]

mod bare;
mod console;
mod floor;
mod load;
mod process;
mod sink;

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use clap::{Parser, Subcommand, ValueEnum};
use litfloor::net::batch::Way;

use floor::Floor;
use load::{Rig, percentile};
use process::Forwarder;

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
        /// One by one, without batches
        #[arg(long)]
        plain: bool,
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
        /// The program [default: litfloor, one folder up]
        #[arg(long)]
        litfloor: Option<PathBuf>,
    },
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Who {
    Bare,
    Litfloor,
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

fn main() -> io::Result<()> {
    match Line::parse().what {
        What::Bare { port, plain } => {
            bare::forward(port, if plain { Way::Plain } else { Way::best() })
        }
        What::Load {
            who,
            load,
            universes,
            brightest,
            seconds,
            rate,
            litfloor,
        } => {
            let mut rig = Rig::new(universes, brightest)?;
            let place = Place::new(litfloor)?;
            let forwarder = place.start(who, Floor::of(universes), rig.sink.port()?)?;
            println!("{who:?} runs as process {}", forwarder.id());
            if brightest <= USUAL {
                rig.settle(&forwarder)?;
            } else {
                rig.console.aim(forwarder.artnet)?;
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

/// Where programs and files are.
struct Place {
    litfloor: PathBuf,
    directory: tempfile::TempDir,
}

impl Place {
    fn new(litfloor: Option<PathBuf>) -> io::Result<Self> {
        let beside = || {
            let own = std::env::current_exe().ok()?;
            Some(own.parent()?.parent()?.join("litfloor"))
        };
        Ok(Self {
            litfloor: litfloor.or_else(beside).unwrap_or_default(),
            directory: tempfile::tempdir()?,
        })
    }

    /// Writes a floor's file.
    fn write(&self, floor: Floor, port: u16) -> io::Result<PathBuf> {
        let path = self.directory.path().join("bench.toml");
        fs::write(&path, floor.file(port))?;
        Ok(path)
    }

    /// Starts a forwarder for a floor whose nodes listen on this port.
    fn start(&self, who: Who, floor: Floor, port: u16) -> io::Result<Forwarder> {
        Forwarder::start(match who {
            Who::Bare => {
                let mut command = Command::new(std::env::current_exe()?);
                command.args(["bare", &port.to_string()]);
                command
            }
            Who::Litfloor => self.command(&self.write(floor, port)?),
        })
    }

    fn command(&self, file: &Path) -> Command {
        let mut command = Command::new(&self.litfloor);
        command.arg("run").arg(file);
        command.args([
            "--artnet",
            "127.0.0.1:0",
            "--http",
            "127.0.0.1:0",
            "--state",
        ]);
        command.arg(self.directory.path().join("state"));
        for name in ["LITFLOOR_PASSPHRASE", "LITFLOOR_READINGS_TOKEN", "RUST_LOG"] {
            command.env_remove(name);
        }
        command
    }
}
