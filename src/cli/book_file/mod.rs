//! `litfloor book …`: the book of repairs as a file, beside the daemon.

mod check;
mod export;
mod recover;

use std::io::{self, Write};
use std::path::PathBuf;

use clap::{Args, Subcommand};

use super::control;
use crate::store::book::salvage::Count;
use crate::store::book::{NAME, NotOpened};
use crate::web::operator::Keep;

/// Options of `book`.
#[derive(Debug, Args)]
pub struct BookFile {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Is the book of repairs whole, and how much is in it?
    Check(check::Check),
    /// Print the book of repairs, or what can be read of a damaged one
    Export(export::Export),
    /// Write what can be read of a book to a new file; the old one stays as it is
    Recover(recover::Recover),
}

/// Where the book is.
#[derive(Debug, Args)]
struct Where {
    /// The file [default: book.sqlite3 in the directory of --state]
    #[arg(long, value_name = "FILE")]
    book: Option<PathBuf>,
    /// Where `litfloor run` keeps its state [default: `$STATE_DIRECTORY`, else
    /// `$XDG_STATE_HOME/litfloor`, else `~/.local/state/litfloor`]
    #[arg(long, value_name = "DIR", conflicts_with = "book")]
    state: Option<PathBuf>,
}

impl Where {
    /// The file, or why it is not known.
    fn path(&self) -> Result<PathBuf, String> {
        if let Some(book) = &self.book {
            return Ok(book.clone());
        }
        match control::keep(self.state.as_deref()) {
            Keep::Directory(directory) => Ok(directory.join(NAME)),
            Keep::Nowhere(why) => Err(format!("error: {why}, or the file with --book")),
            Keep::Memory => Err("error: name the file with --book".to_owned()),
        }
    }
}

/// Why a command ends early.
enum Ended {
    /// With this said, and this exit status.
    Said(String, u8),
    /// Nothing can be printed.
    Io(io::Error),
}

impl From<io::Error> for Ended {
    fn from(error: io::Error) -> Self {
        Self::Io(error)
    }
}

impl From<NotOpened> for Ended {
    fn from(error: NotOpened) -> Self {
        use crate::store::book::Flaw;
        let status = if matches!(error.flaw, Flaw::NotHad(_)) {
            3
        } else {
            1
        };
        Self::Said(error.to_string(), status)
    }
}

/// Runs the command. The exit status: 0 fine, 1 the book is damaged or none, 2 wrong usage, 3 the machine is at
/// fault.
pub fn run(options: &BookFile, out: &mut dyn Write, err: &mut dyn Write) -> u8 {
    let done = match &options.what {
        What::Check(options) => check::run(options, out, err),
        What::Export(options) => export::run(options, out, err),
        What::Recover(options) => recover::run(options, out),
    };
    match done {
        Ok(status) => status,
        Err(Ended::Said(text, status)) => {
            // Who can't be told sees the exit status.
            let _ = writeln!(err, "{text}");
            status
        }
        // Whoever read it has seen enough.
        Err(Ended::Io(error)) if error.kind() == io::ErrorKind::BrokenPipe => 0,
        Err(Ended::Io(error)) => {
            let _ = writeln!(err, "error: can't be printed: {error}");
            3
        }
    }
}

/// A table of what is there and what is not.
fn counted(counts: &[Count], out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "  {:<10} {:>8} {:>8}", "rows of", "kept", "lost")?;
    for count in counts {
        let more = if count.at_least { " or more" } else { "" };
        writeln!(
            out,
            "  {:<10} {:>8} {:>8}{more}",
            count.table, count.kept, count.lost
        )?;
    }
    Ok(())
}
