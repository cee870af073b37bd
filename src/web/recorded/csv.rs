//! The history as CSV, in parts, so that a year of it needs no memory.

use std::time::Duration;

use axum::body::Bytes;
use tokio::runtime::Handle;
use tokio::sync::mpsc::Sender;
use tokio::time::Instant;

use super::super::timers;
use crate::cells::harmless;
use crate::power::moment;
use crate::power::series::{Archive, Ask, Row, Unread};

/// Parts that wait for a slow reader; then the writing of them waits, too.
pub(super) const PARTS: usize = 4;

/// So long a part waits to be taken. Whoever is slower holds up other exports.
const PATIENCE: Duration = Duration::from_secs(30);

/// So long an export takes at most, however steadily it is taken.
pub(super) const LONGEST: Duration = Duration::from_secs(600);

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

type Parts = Sender<Result<Bytes, Unread>>;

fn writer() -> csv::Writer<Vec<u8>> {
    // RFC 4180: lines end with CR and LF.
    csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::with_capacity(PART + 1_024))
}

fn failed(error: &dyn std::fmt::Display) -> Unread {
    Unread(error.to_string())
}

/// Writes all rows of a range. Ends early when whoever asked has gone away.
///
/// # Errors
/// When the history can't be read, or the rows are not taken in time: `until` at the latest.
pub(super) fn write(
    archive: &dyn Archive,
    ask: &Ask,
    parts: &Parts,
    until: Instant,
) -> Result<(), Unread> {
    let mut table = writer();
    table.write_record(NAMES).map_err(|error| failed(&error))?;
    let mut ended = None;
    archive.rows(ask, &mut |row| {
        let done = table.write_record(fields(&row)).and_then(|()| {
            table.flush()?;
            Ok(())
        });
        if let Err(error) = done {
            ended = Some(Err(failed(&error)));
            return false;
        }
        if table.get_ref().len() < PART {
            return true;
        }
        let full = std::mem::replace(&mut table, writer());
        match send(full, parts, until) {
            Ok(true) => true,
            other => {
                ended = Some(other.map(drop));
                false
            }
        }
    })?;
    match ended {
        Some(ended) => ended,
        None => send(table, parts, until).map(drop),
    }
}

/// Whether somebody is there to take it. A table that is cut off must not look whole, so that it is
/// not taken in time is an error.
fn send(table: csv::Writer<Vec<u8>>, parts: &Parts, until: Instant) -> Result<bool, Unread> {
    let slow = || Unread("it was not taken in time: ask for a shorter range".to_owned());
    let part = table.into_inner().map_err(|error| failed(&error));
    let left = until.saturating_duration_since(timers::now());
    if left.is_zero() {
        return Err(slow());
    }
    // The limit is made within the runtime, whose clock it goes by.
    let sent =
        async { timers::within(PATIENCE.min(left), parts.send(part.map(Bytes::from))).await };
    let sent = Handle::current().block_on(sent).map_err(|_| slow())?;
    Ok(sent.is_ok())
}

fn fields(row: &Row) -> [String; 14] {
    let sum = &row.sum;
    let number = |value: f64| format!("{value:.3}");
    let mean = |value: Option<f64>| value.map_or_else(String::new, number);
    [
        moment::iso(row.at),
        number(sum.s),
        row.element.kind.word().to_owned(),
        harmless(&row.element.name).into_owned(),
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

#[cfg(test)]
mod tests {
    use tokio::sync::mpsc;

    use super::super::super::testing::MadeUp;
    use super::*;

    fn long() -> Ask {
        Ask {
            from: 0,
            to: 10_000,
            points: 1,
            element: "feed:long".parse().ok(),
        }
    }

    #[test]
    fn a_name_that_is_a_formula_is_text() {
        let row = Row {
            at: 0,
            element: "feed:=1+1".parse().unwrap(),
            sum: crate::power::record::Sum::default(),
        };
        assert_eq!(fields(&row)[3], "'=1+1");
    }

    #[tokio::test(start_paused = true)]
    async fn parts_that_nobody_takes_end_it_with_an_error() {
        let (parts, _held) = mpsc::channel(PARTS);
        let (done, ended) = tokio::sync::oneshot::channel();
        let handle = Handle::current();
        // A thread of its own: the paused clock stands still while the runtime's threads work.
        std::thread::spawn(move || {
            let _within = handle.enter();
            let until = timers::now() + LONGEST;
            done.send(write(&MadeUp, &long(), &parts, until))
        });
        let said = ended.await.unwrap().unwrap_err().to_string();
        assert!(said.contains("not taken in time"), "{said}");
    }

    #[tokio::test]
    async fn an_export_ends_at_its_last_moment() {
        let (parts, mut taken) = mpsc::channel(100);
        let write =
            tokio::task::spawn_blocking(move || write(&MadeUp, &long(), &parts, timers::now()));
        let said = write.await.unwrap().unwrap_err().to_string();
        assert!(said.contains("not taken in time"), "{said}");
        assert!(taken.recv().await.is_none());
    }
}
