//! What is asked of the history. Every question has a connection of its own that can only read.

use std::sync::mpsc::SyncSender;
use std::sync::{Arc, PoisonError};

use rusqlite::{Connection, params};

use super::writer::{Common, Message, Place};
use super::{clock, file, table};
use crate::power::record::{Element, Sum};
use crate::power::series::{Archive, Ask, Line, Recording, Row, Series, Unread};

/// Rows that are read at one time.
const BATCH: usize = 2_000;

/// Answers questions. All of it may block: it is not for a thread that serves.
#[derive(Debug, Clone)]
pub struct Reader {
    common: Arc<Common>,
    writer: SyncSender<Message>,
}

/// Which rows serve a range: those of `table`, each `row_s` long, and behind the second `tail`
/// those of the seconds.
struct Source {
    table: &'static str,
    row_s: i64,
    tail: i64,
}

impl Reader {
    pub(super) const fn new(common: Arc<Common>, writer: SyncSender<Message>) -> Self {
        Self { common, writer }
    }

    fn read<T>(&self, work: impl FnOnce(&Connection) -> rusqlite::Result<T>) -> Result<T, Unread> {
        let result = match (&self.common.place, &self.common.memory) {
            (_, Some(memory)) => work(&memory.lock().unwrap_or_else(PoisonError::into_inner)),
            (Place::Directory(directory), None) => {
                file::open_to_read(directory).and_then(|connection| {
                    // All of an answer is of one moment.
                    let within = connection.unchecked_transaction()?;
                    work(&within)
                })
            }
            _ => return Err(Unread("there is none".to_owned())),
        };
        result.map_err(|error| {
            if file::broken(&error) {
                // A writer that is busy hears it from the next who asks.
                let _ = self.writer.try_send(Message::Suspect);
            }
            Unread(file::said(&error))
        })
    }
}

impl Archive for Reader {
    fn now(&self) -> i64 {
        clock::unix_ms() / 1_000
    }

    fn recording(&self) -> Recording {
        self.common.recording().clone()
    }

    fn series(&self, ask: &Ask) -> Result<Series, Unread> {
        self.read(|connection| series(connection, ask))
    }

    fn rows(&self, ask: &Ask, each: &mut dyn FnMut(Row) -> bool) -> Result<(), Unread> {
        let (table, wanted) = self.read(|connection| {
            let Source { table, .. } = source(connection, ask)?;
            Ok((table, wanted(connection, ask)?))
        })?;
        for (_, element) in wanted {
            let mut from = ask.from;
            loop {
                // Whoever takes the rows may be slow: nothing is held meanwhile.
                let batch =
                    self.read(|connection| batch(connection, table, &element, from, ask.to))?;
                let Some(last) = batch.last().map(|row| row.at) else {
                    break;
                };
                let ended = batch.len() < BATCH;
                if !batch.into_iter().all(&mut *each) {
                    return Ok(());
                }
                if ended {
                    break;
                }
                from = last + 1;
            }
        }
        Ok(())
    }
}

fn source(connection: &Connection, ask: &Ask) -> rusqlite::Result<Source> {
    let oldest: Option<i64> =
        connection.query_row("SELECT MIN(at) FROM seconds", [], |row| row.get(0))?;
    let newest = table::newest_minute(connection)?;
    if newest.is_none() || oldest.is_some_and(|oldest| ask.from >= oldest) {
        return Ok(Source {
            table: "seconds",
            row_s: 1,
            tail: i64::MAX,
        });
    }
    Ok(Source {
        table: "minutes",
        row_s: 60,
        tail: newest.map_or(ask.from, |newest| newest + 60),
    })
}

fn wanted(connection: &Connection, ask: &Ask) -> rusqlite::Result<Vec<(i64, Element)>> {
    let mut all = table::series(connection)?;
    if let Some(element) = &ask.element {
        all.retain(|(_, known)| known == element);
    }
    Ok(all)
}

fn series(connection: &Connection, ask: &Ask) -> rusqlite::Result<Series> {
    let Source { table, row_s, tail } = source(connection, ask)?;
    let bucket_s = ask.bucket_s(row_s);
    let from = ask.from.div_euclid(row_s) * row_s;
    let count = usize::try_from((ask.to - from + bucket_s - 1).div_euclid(bucket_s)).unwrap_or(0);
    let mut lines = Vec::new();
    for (id, element) in wanted(connection, ask)? {
        let mut buckets = vec![None; count];
        let mut gather = |table, first: i64, last: i64| -> rusqlite::Result<()> {
            let statement = format!(
                "SELECT (at - ?2) / ?4, {} FROM {table}
                 WHERE series = ?1 AND at >= ?5 AND at < ?3 GROUP BY 1",
                table::SUMS
            );
            let mut statement = connection.prepare_cached(&statement)?;
            let mut found = statement.query(params![id, from, last, bucket_s, first])?;
            while let Some(row) = found.next()? {
                let at: usize = row.get::<_, i64>(0)?.try_into().unwrap_or(usize::MAX);
                let sum = table::sum(row, 1)?;
                if let Some(bucket) = buckets.get_mut(at) {
                    bucket.get_or_insert_with(Sum::default).merge(&sum);
                }
            }
            Ok(())
        };
        gather(table, from, ask.to)?;
        if tail < ask.to {
            gather("seconds", tail.max(from), ask.to)?;
        }
        if buckets.iter().any(Option::is_some) {
            lines.push(Line { element, buckets });
        }
    }
    Ok(Series {
        from,
        bucket_s,
        row_s,
        count,
        lines,
    })
}

/// The next rows of an element, some [`BATCH`] of them; fewer are the last. Its number is looked up
/// each time, for the file may be another than before.
fn batch(
    connection: &Connection,
    table: &str,
    element: &Element,
    from: i64,
    to: i64,
) -> rusqlite::Result<Vec<Row>> {
    let statement = format!(
        "SELECT at, {} FROM {table}
         WHERE series = (SELECT id FROM series WHERE kind = ?1 AND name = ?2)
         AND at >= ?3 AND at < ?4 GROUP BY at ORDER BY at LIMIT {BATCH}",
        table::SUMS
    );
    let mut statement = connection.prepare_cached(&statement)?;
    let named = params![element.kind.word(), element.name, from, to];
    let found = statement.query_map(named, |row| {
        Ok(Row {
            at: row.get(0)?,
            element: element.clone(),
            sum: table::sum(row, 1)?,
        })
    })?;
    found.collect()
}
