//! `litfloor doctor FLOOR.toml`: looks at a machine and its network before the night. It changes nothing,
//! sends no light, and asks only the nodes of the file and the other litfloor of `[standby]`.
//!
//! Exit status: 0 nothing is wrong, 1 the floor file is, 3 the machine or its network is.

mod certificate;
mod clock;
mod key_file;
mod machine;
mod network;
mod operator;
mod pair;
mod ports;
mod state;
#[cfg(test)]
mod tests;

use std::io::{self, IsTerminal, Write};
use std::net::{SocketAddr, SocketAddrV4};
use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::doors::Doors;
use super::reload::Reader;
use super::report::json;
use super::summary::counted;
use super::{Format, address, control, more};
use crate::floor::{FaultRow, Faults, Floor};

/// Options of `doctor`.
#[derive(Debug, Args)]
#[command(after_long_help = more::OF_DOCTOR)]
pub struct Doctor {
    /// The floor file
    floor: PathBuf,
    /// Where `run` will listen to Art-Net
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "0.0.0.0:6454", value_parser = address::v4)]
    artnet: SocketAddrV4,
    /// Where `run` will serve the dashboard
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "0.0.0.0:8080", value_parser = address::any)]
    http: SocketAddr,
    /// Where `run` will keep the history and the book [default: as `run` has it]
    #[arg(long, value_name = "DIR")]
    state: Option<PathBuf>,
    #[command(flatten)]
    doors: Doors,
    /// How to print it
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

/// How one thing is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
enum Verdict {
    /// As it should be, or nothing can be said against it.
    Fine,
    /// It works, but not as well or as surely as it could.
    Mind,
    /// Something will not work.
    Wrong,
}

impl Verdict {
    const fn word(self) -> &'static str {
        match self {
            Self::Fine => "fine",
            Self::Mind => "MIND",
            Self::Wrong => "WRONG",
        }
    }
}

/// One thing that was looked at.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
struct Point {
    /// A stable word for it.
    #[serde(rename = "point")]
    name: &'static str,
    verdict: Verdict,
    /// How it is.
    told: String,
    /// What to do about it.
    to_do: Option<String>,
}

impl Point {
    fn fine(name: &'static str, told: impl Into<String>) -> Self {
        Self {
            name,
            verdict: Verdict::Fine,
            told: told.into(),
            to_do: None,
        }
    }

    fn mind(name: &'static str, told: impl Into<String>, to_do: impl Into<String>) -> Self {
        Self {
            name,
            verdict: Verdict::Mind,
            told: told.into(),
            to_do: Some(to_do.into()),
        }
    }

    fn wrong(name: &'static str, told: impl Into<String>, to_do: impl Into<String>) -> Self {
        Self {
            verdict: Verdict::Wrong,
            ..Self::mind(name, told, to_do)
        }
    }
}

/// What was found, for programs.
#[derive(Debug, Serialize)]
struct Found {
    verdict: Verdict,
    /// Faults of the floor file.
    faults: Vec<FaultRow>,
    points: Vec<Point>,
}

/// Looks, and prints what it found to `out`, faults of the floor file as text to `err`.
pub fn run(options: &Doctor, out: &mut dyn Write, err: &mut dyn Write) -> u8 {
    let reader = Reader {
        path: options.floor.clone(),
        artnet: options.artnet,
    };
    let read = reader.read().map(|(_, floor)| floor);
    let mut points = vec![of_file(&read)];
    let floor = read.as_ref().ok();
    let (of_ports, listener) = ports::look(options.artnet, options.http, options.doors.guests);
    points.extend(of_ports);
    points.extend(network::look(floor, options.artnet, listener));
    points.extend(machine::look(floor));
    points.extend(clock::look());
    let keep = control::keep(options.state.as_deref());
    let of_state = state::look(&keep);
    let kept = state::kept(&of_state);
    points.extend(of_state);
    points.extend(operator::look(&keep, kept.clone(), options.http));
    points.extend(certificate::look(&options.doors, &keep, kept, options.http));
    tell(points, read.err(), options.format, out, err).unwrap_or(3)
}

fn of_file(read: &Result<Floor, Faults>) -> Point {
    match read {
        Ok(floor) => Point::fine(
            "floor_file",
            format!(
                "{}: {}, {}, no faults in the file",
                floor.name,
                counted(floor.panels.len() as u64, "panel"),
                counted(floor.nodes.len() as u64, "node"),
            ),
        ),
        Err(faults) => Point::wrong(
            "floor_file",
            // A file that is not there is a fault, too.
            match faults.rows().as_slice() {
                [only] => only.message.clone(),
                rows => format!("it has {}", counted(rows.len() as u64, "fault")),
            },
            "mend what `litfloor check` says of it; nodes were not looked at",
        ),
    }
}

fn tell(
    points: Vec<Point>,
    faults: Option<Faults>,
    format: Format,
    out: &mut dyn Write,
    err: &mut dyn Write,
) -> io::Result<u8> {
    let worst = points.iter().map(|point| point.verdict).max();
    let verdict = worst.unwrap_or(Verdict::Fine);
    let status = match (&faults, verdict) {
        (Some(_), _) => 1,
        (None, Verdict::Wrong) => 3,
        (None, _) => 0,
    };
    match format {
        Format::Text => {
            if let Some(faults) = &faults {
                let color = io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
                write!(err, "{}", faults.render(color))?;
            }
            text(&points, out)?;
        }
        Format::Json => {
            let found = Found {
                verdict,
                faults: faults.map_or_else(Vec::new, |faults| faults.rows()),
                points,
            };
            json(&found, out)?;
        }
    }
    Ok(status)
}

fn text(points: &[Point], out: &mut dyn Write) -> io::Result<()> {
    let width = points
        .iter()
        .map(|point| point.name.len())
        .max()
        .unwrap_or(0);
    for Point {
        name,
        verdict,
        told,
        to_do,
    } in points
    {
        let (word, what) = (verdict.word(), name.replace('_', " "));
        writeln!(out, "{word:5}  {what:width$}  {told}")?;
        if let Some(to_do) = to_do {
            writeln!(out, "{:5}  {:width$}  -> {to_do}", "", "")?;
        }
    }
    let count = |wanted| {
        let found = points.iter().filter(|point| point.verdict == wanted);
        found.count()
    };
    writeln!(
        out,
        "{} wrong, {} to mind, {} fine. A machine that is fine says nothing of fuses, cables and people.",
        count(Verdict::Wrong),
        count(Verdict::Mind),
        count(Verdict::Fine),
    )
}
