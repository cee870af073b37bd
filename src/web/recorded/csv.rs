//! The history as CSV, in parts, so that a year of it needs no memory.

use std::time::Duration;

use axum::body::Bytes;
use tokio::runtime::Handle;
use tokio::sync::mpsc::Sender;

use super::super::timers;
use crate::power::moment;
use crate::power::series::{Archive, Ask, Row, Unread};

/// Parts that wait for a slow reader; then the writing of them waits, too.
pub(super) const PARTS: usize = 4;

/// So long a part waits to be taken. Whoever is slower holds up others, and the file's log.
const PATIENCE: Duration = Duration::from_secs(30);

/// Bytes of a part.
const PART: usize = 64 * 1024;

const NAMES: [&str; 14] = [
    "time",
    "seconds",
    "kind",
    "name",
    "asked_mean_a",
    "asked_max_a",
    "draw_min_a",
    "draw_mean_a",
    "draw_max_a",
    "limit_a",
    "scale_min",
    "mains_mean_w",
    "capped_s",
    "over_s",
];

fn writer() -> csv::Writer<Vec<u8>> {
    // RFC 4180: lines end with CR and LF.
    csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::with_capacity(PART + 1_024))
}

fn failed(error: &dyn std::fmt::Display) -> Unread {
    Unread(error.to_string())
}

/// Writes all rows of a range. Ends early when nobody takes them.
pub(super) fn write(
    archive: &dyn Archive,
    ask: &Ask,
    parts: &Sender<Result<Bytes, Unread>>,
) -> Result<(), Unread> {
    let mut table = writer();
    table.write_record(NAMES).map_err(|error| failed(&error))?;
    let mut fault = None;
    archive.rows(ask, &mut |row| {
        let done = table.write_record(fields(&row)).and_then(|()| {
            table.flush()?;
            Ok(())
        });
        if let Err(error) = done {
            fault = Some(failed(&error));
            return false;
        }
        if table.get_ref().len() < PART {
            return true;
        }
        let full = std::mem::replace(&mut table, writer());
        send(full, parts)
    })?;
    if let Some(fault) = fault {
        return Err(fault);
    }
    send(table, parts);
    Ok(())
}

/// Whether somebody takes it.
fn send(table: csv::Writer<Vec<u8>>, parts: &Sender<Result<Bytes, Unread>>) -> bool {
    let part = table.into_inner().map_err(|error| failed(&error));
    let sent = timers::within(PATIENCE, parts.send(part.map(Bytes::from)));
    matches!(Handle::current().block_on(sent), Ok(Ok(())))
}

fn fields(row: &Row) -> [String; 14] {
    let sum = &row.sum;
    let number = |value: f64| format!("{value:.3}");
    let mean = |value: Option<f64>| value.map_or_else(String::new, number);
    [
        moment::iso(row.at),
        number(sum.s),
        row.element.kind.word().to_owned(),
        row.element.name.clone(),
        mean(sum.asked_a()),
        number(sum.asked_max_a),
        number(sum.draw_min_a),
        mean(sum.draw_a()),
        number(sum.draw_max_a),
        mean(sum.limit_a),
        format!("{:.4}", sum.scale_min),
        mean(sum.mains_w()),
        number(sum.capped_s),
        number(sum.over_s),
    ]
}
