//! `litfloor status`: is all well with a litfloor that runs? In a few lines, without a browser.
//!
//! Exit status: 0 all is well, 1 something is wrong, 3 nobody answers, or not a litfloor.

mod asked;
mod judged;
mod line;
#[cfg(test)]
mod tests;

use std::io::{self, Write};
use std::time::Duration;

use clap::Args;
use serde::Serialize;

use super::Format;
use super::more;
use super::report::json;
use crate::power::record::DIMMED_BELOW;
use asked::Answers;
use judged::{LoadRow, Seen};
use line::{At, Fingerprint};

/// Elements of a kind that are told one by one: the most dimmed, then those nearest to their limits.
const MOST_LOADS: usize = 3;

/// What is wrong that is told one by one.
const MOST_WRONG: usize = 20;

/// Options of `status`.
#[derive(Debug, Args)]
#[command(after_long_help = more::OF_STATUS)]
pub struct Status {
    /// Where its dashboard is: `http://ADDRESS:PORT`, or https
    #[arg(long, value_name = "ADDRESS", default_value = "http://127.0.0.1:8080")]
    at: At,
    /// Of the certificate that it shows, as litfloor printed it at its start (SHA-256); else one that
    /// this machine trusts
    #[arg(long, value_name = "FINGERPRINT")]
    fingerprint: Option<Fingerprint>,
    /// How to print it
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

/// What is told. The keys stay as they are; others may come.
#[derive(Debug, Serialize)]
struct Told {
    /// Whether nothing is wrong.
    well: bool,
    at: String,
    /// Whether a litfloor answers there; if not, there is nothing below.
    answers: bool,
    /// What is wrong, the worst first, for people.
    wrong: Vec<String>,
    #[serde(flatten)]
    seen: Option<Seen>,
}

/// Asks, and prints what came of it to `out`; why nothing did, to `err` as text.
pub fn run(options: &Status, out: &mut dyn Write, err: &mut dyn Write) -> u8 {
    let told = match Answers::of(&options.at, options.fingerprint.as_ref()) {
        Ok(answers) => {
            let (seen, wrong) = judged::judge(answers);
            Told {
                well: wrong.is_empty(),
                at: options.at.to_string(),
                answers: true,
                wrong,
                seen: Some(seen),
            }
        }
        Err(why) => Told {
            well: false,
            at: options.at.to_string(),
            answers: false,
            wrong: vec![why],
            seen: None,
        },
    };
    tell(&told, options.format, out, err).unwrap_or(3)
}

fn tell(told: &Told, format: Format, out: &mut dyn Write, err: &mut dyn Write) -> io::Result<u8> {
    match (format, &told.seen) {
        (Format::Json, _) => json(told, out)?,
        (Format::Text, Some(seen)) => text(told, seen, out)?,
        (Format::Text, None) => {
            for why in &told.wrong {
                writeln!(err, "{why}")?;
            }
        }
    }
    Ok(match (told.answers, told.well) {
        (false, _) => 3,
        (true, false) => 1,
        (true, true) => 0,
    })
}

fn text(told: &Told, seen: &Seen, out: &mut dyn Write) -> io::Result<()> {
    let which = match &seen.version {
        Some(version) => format!("litfloor {version}"),
        None if seen.as_guest => "the address for guests, which tells less".to_owned(),
        None => "litfloor of unknown version".to_owned(),
    };
    let since = humantime::format_duration(Duration::from_secs(seen.uptime_s));
    let verdict = if told.well { "All is well" } else { "NOT WELL" };
    writeln!(
        out,
        "{verdict}: {} at {}, {which}, for {since}",
        seen.file, told.at
    )?;
    for wrong in told.wrong.iter().take(MOST_WRONG) {
        writeln!(out, "  ! {wrong}")?;
    }
    if let Some(more) = told.wrong.len().checked_sub(MOST_WRONG + 1) {
        writeln!(out, "  ! and {} more", more + 1)?;
    }
    writeln!(
        out,
        "Signal:  {}, {:.0} frames a second; {} taken and {} sent since the start",
        seen.signal, seen.frames_per_s, seen.frames_in, seen.frames_out
    )?;
    let limit = seen
        .floor
        .limit_va
        .map_or_else(String::new, |limit| format!(" of {limit:.0}"));
    writeln!(
        out,
        "Draw:    floor {:.0}{limit} VA (computed, not measured){}",
        seen.floor.draw_va,
        dimmed_most(seen)
    )?;
    for kind in ["circuit", "supply", "feed"] {
        loads(kind, &seen.loads, out)?;
    }
    let nodes = &seen.nodes;
    write!(
        out,
        "Nodes:   {} of {} online",
        nodes.online,
        nodes.online + nodes.offline.len()
    )?;
    match nodes.offline.as_slice() {
        [] => writeln!(out)?,
        offline => writeln!(out, "; silent: {}", super::networks::named(offline))?,
    }
    let sure = seen.faults.iter().filter(|fault| fault.known).count();
    let faults = seen.faults.len();
    writeln!(out, "Faults:  {sure} known, {} possible", faults - sure)?;
    if !seen.recording.in_file {
        writeln!(out, "History: in no file; it ends with litfloor")?;
    }
    writeln!(out, "Notices: {}", seen.notices.len())?;
    // Those that are bad stand above already.
    for notice in seen.notices.iter().filter(|notice| !notice.is_bad()) {
        writeln!(out, "  - {}", notice.text)?;
    }
    Ok(())
}

/// What the cap takes from the picture where it takes most, and what does that; nothing where it takes nothing.
fn dimmed_most(seen: &Seen) -> String {
    let whole = (seen.floor.scale, "the limit of the floor".to_owned());
    let loads = seen.loads.iter();
    let loads = loads.map(|load| (load.scale, format!("{} {}", load.kind, load.name)));
    let all = std::iter::once(whole).chain(loads);
    let least = all.min_by(|one, other| one.0.total_cmp(&other.0));
    let Some((scale, name)) = least.filter(|(scale, _)| is_dimmed(*scale)) else {
        return String::new();
    };
    // Factors on the way to a panel multiply: where several dim it, it gets less than any of them says.
    let all = if per_cent(seen.dimmed_to) < per_cent(scale) {
        format!(
            ", and to {:.0} % at worst with all that dims",
            per_cent(seen.dimmed_to)
        )
    } else {
        String::new()
    };
    let by = if name.starts_with("the ") { "by" } else { "at" };
    format!(
        "; the picture is dimmed to {:.0} % {by} {name}{all}",
        per_cent(scale)
    )
}

/// As it is printed.
fn per_cent(scale: f64) -> f64 {
    (100.0 * scale).round()
}

fn is_dimmed(scale: f64) -> bool {
    scale < DIMMED_BELOW
}

/// Those of a kind that are dimmed most, then those that are nearest to their limits, one a line.
fn loads(kind: &str, all: &[LoadRow], out: &mut dyn Write) -> io::Result<()> {
    let mut own: Vec<&LoadRow> = all.iter().filter(|load| load.kind == kind).collect();
    let dimming = |load: &LoadRow| {
        if is_dimmed(load.scale) {
            load.scale
        } else {
            1.0
        }
    };
    own.sort_by(|one, other| {
        let dimmed = dimming(one).total_cmp(&dimming(other));
        dimmed.then(other.used().total_cmp(&one.used()))
    });
    for load in own.iter().take(MOST_LOADS) {
        let dimmed = if is_dimmed(load.scale) {
            format!(", dimmed to {:.0} %", per_cent(load.scale))
        } else {
            String::new()
        };
        writeln!(
            out,
            "         {kind} {}: {:.2} of {:.2} A ({:.0} %){dimmed}",
            load.name,
            load.draw_a,
            load.limit_a,
            100.0 * load.used(),
        )?;
    }
    let rest = own.get(MOST_LOADS..).unwrap_or_default();
    match (
        rest.len(),
        rest.iter().filter(|load| is_dimmed(load.scale)).count(),
    ) {
        (0, _) => Ok(()),
        (more, 0) => writeln!(
            out,
            "         and {more} more of this kind, further from their limits"
        ),
        (more, dimmed) => writeln!(
            out,
            "         and {more} more of this kind, of which {dimmed} dimmed less than these"
        ),
    }
}
