//! The plan as CSV (RFC 4180), one line a figure.

use std::io::{self, Write};

use super::figures;
use crate::cells::harmless;
use crate::power::plan::Plan;

const HEADER: [&str; 7] = [
    "section",
    "item",
    "load_case",
    "figure",
    "value",
    "unit",
    "rule",
];

/// Writes it.
///
/// # Errors
/// When it can't be written.
pub(super) fn write(plan: &Plan, out: &mut dyn Write) -> io::Result<()> {
    let mut table = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(out);
    table.write_record(HEADER.iter().chain(&["source"]))?;
    for figure in figures::all(plan) {
        table.write_record([
            figure.section,
            harmless(&figure.item).as_ref(),
            harmless(&figure.case).as_ref(),
            figure.what,
            harmless(&figure.value).as_ref(),
            figure.unit,
            figure.rule.text(),
            figure.rule.source(),
        ])?;
    }
    table.flush()
}
