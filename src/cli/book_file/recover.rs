//! `litfloor book recover`: what can be read of a book, written to a new one.

use std::io::Write;
use std::path::PathBuf;
use std::time::{Duration, UNIX_EPOCH};

use clap::Args;

use super::{Ended, Where, counted};
use crate::store::book::NAME;
use crate::store::book::recover::recover;
use crate::store::clock;

/// Options of `book recover`.
#[derive(Debug, Args)]
pub(super) struct Recover {
    #[command(flatten)]
    place: Where,
    /// The new file [default: book-recovered.sqlite3 beside the old one]
    #[arg(long, value_name = "FILE")]
    to: Option<PathBuf>,
}

pub(super) fn run(options: &Recover, out: &mut dyn Write) -> Result<u8, Ended> {
    let old = options.place.path().map_err(|why| Ended::Said(why, 2))?;
    let beside = || old.with_file_name("book-recovered.sqlite3");
    let new = options.to.clone().unwrap_or_else(beside);
    let now = UNIX_EPOCH + Duration::from_millis(clock::unix_ms().unsigned_abs());
    let recovered = recover(&old, &new, now)?;
    match &recovered.flaw {
        Some(flaw) => writeln!(out, "{}: {flaw}.", old.display())?,
        None => writeln!(out, "{} is whole; this is a copy of it.", old.display())?,
    }
    writeln!(out, "Written to {}:", new.display())?;
    counted(&recovered.counts, out)?;
    let mended = [
        (
            recovered.nameless,
            "faults of which only the steps were left; they are called “lost/…”",
        ),
        (
            recovered.without_steps,
            "faults whose steps were lost; one step says so",
        ),
    ];
    for (count, what) in mended.into_iter().filter(|(count, _)| *count > 0) {
        writeln!(out, "  {count} {what}")?;
    }
    writeln!(
        out,
        "The old file is as it was. To go on with the new one: stop litfloor, move the old one away (with \
         “-journal” beside it, if that is there), name the new one {NAME}, and start again."
    )?;
    Ok(0)
}
