//! What every report on a floor file needs: the formats, reading the file, JSON.

use std::io::{self, IsTerminal, Write};
use std::path::Path;

use clap::ValueEnum;
use serde::Serialize;

use crate::floor;
use crate::floor::model::Floor;

/// How a report is printed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum ReportFormat {
    /// For a terminal.
    #[default]
    Text,
    /// For a spreadsheet.
    Csv,
    /// For programs.
    Json,
    /// For paper: open it in a browser and print it.
    Html,
}

/// The floor, or its faults to `err`.
pub(super) fn read(path: &Path, err: &mut dyn Write) -> io::Result<Option<Floor>> {
    let color = io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
    match floor::read(path) {
        Ok(floor) => Ok(Some(floor)),
        Err(faults) => write!(err, "{}", faults.render(color)).map(|()| None),
    }
}

/// A value as JSON, indented.
pub(super) fn json(value: &impl Serialize, out: &mut dyn Write) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, value)?;
    writeln!(out)
}
