//! Panels: where each lies and lay, its tests on the bench, and notes.

use std::time::SystemTime;

use rusqlite::{Connection, OptionalExtension, params};

use super::entry::{self, BenchEntry, DAEMON, stamp};
use super::faults;
use super::refusal::NotDone;
use super::rows::{
    BenchRow, LastBench, NoteRow, PanelPage, PanelRow, PlacedRow, PositionRow, Signature, SignedRow,
};

/// Makes a panel known, if it is not.
pub(super) fn know(book: &Connection, serial: &str) -> rusqlite::Result<()> {
    // Not INSERT OR IGNORE: that counts a number on and leaves a gap.
    let statement = "INSERT INTO panels (serial) SELECT ?1
                     WHERE NOT EXISTS (SELECT 1 FROM panels WHERE serial = ?1)";
    book.prepare_cached(statement)?.execute([serial])?;
    Ok(())
}

/// All panels, by serial.
pub(super) fn all(book: &Connection) -> rusqlite::Result<Vec<PanelRow>> {
    let statement = "
        SELECT serial,
          (SELECT position FROM positions AS p WHERE p.serial = panels.serial AND to_at IS NULL),
          (SELECT count(*) FROM faults AS f WHERE f.serial = panels.serial
             AND state IN ('found', 'being_repaired', 'repaired')),
          (SELECT max(id) FROM benches AS b WHERE b.serial = panels.serial) AS last
        FROM panels ORDER BY serial";
    let mut last = book.prepare_cached("SELECT at, passed FROM benches WHERE id = ?")?;
    let mut rows = book.prepare_cached(statement)?;
    let rows = rows.query_map([], |row| {
        let bench = match row.get::<_, Option<i64>>(3)? {
            Some(id) => Some(last.query_row([id], |row| {
                let (at, passed) = (row.get(0)?, row.get(1)?);
                Ok(LastBench { at, passed })
            })?),
            None => None,
        };
        Ok(PanelRow {
            serial: row.get(0)?,
            position: row.get(1)?,
            open_faults: row.get(2)?,
            last_bench: bench,
        })
    })?;
    rows.collect()
}

/// All of one panel.
pub(super) fn page(book: &Connection, serial: &str) -> rusqlite::Result<Option<PanelPage>> {
    let mut known = book.prepare_cached("SELECT 1 FROM panels WHERE serial = ?")?;
    if !known.exists([serial])? {
        return Ok(None);
    }
    let positions = positions(book, serial)?;
    let now = positions.iter().find(|span| span.to.is_none());
    Ok(Some(PanelPage {
        serial: serial.to_owned(),
        position: now.map(|span| span.position.clone()),
        benches: benches(book, serial)?,
        faults: faults::all(book, Some(serial))?,
        notes: notes(book, serial)?,
        positions,
    }))
}

fn positions(book: &Connection, serial: &str) -> rusqlite::Result<Vec<PositionRow>> {
    let statement =
        "SELECT position, from_at, to_at, who FROM positions WHERE serial = ? ORDER BY id";
    let mut rows = book.prepare_cached(statement)?;
    let rows = rows.query_map([serial], |row| {
        Ok(PositionRow {
            position: row.get(0)?,
            from: row.get(1)?,
            to: row.get(2)?,
            who: row.get(3)?,
        })
    })?;
    rows.collect()
}

fn benches(book: &Connection, serial: &str) -> rusqlite::Result<Vec<BenchRow>> {
    let statement = "SELECT id, at, passed, who, note FROM benches WHERE serial = ? ORDER BY id";
    let mut rows = book.prepare_cached(statement)?;
    let rows = rows.query_map([serial], |row| {
        let signature = signature(book, row.get(0)?)?;
        Ok(BenchRow {
            at: row.get(1)?,
            passed: row.get(2)?,
            who: row.get(3)?,
            note: row.get(4)?,
            signature: (!signature.is_empty()).then_some(signature),
        })
    })?;
    rows.collect()
}

fn signature(book: &Connection, bench: i64) -> rusqlite::Result<Signature> {
    let mut rows = book.prepare_cached("SELECT name, current_a FROM currents WHERE bench = ?")?;
    let rows = rows.query_map([bench], |row| Ok((row.get(0)?, row.get(1)?)))?;
    rows.collect()
}

fn notes(book: &Connection, serial: &str) -> rusqlite::Result<Vec<NoteRow>> {
    let statement = "SELECT at, who, text FROM notes WHERE serial = ? ORDER BY id";
    let mut rows = book.prepare_cached(statement)?;
    let rows = rows.query_map([serial], |row| {
        Ok(NoteRow {
            at: row.get(0)?,
            who: row.get(1)?,
            text: row.get(2)?,
        })
    })?;
    rows.collect()
}

/// What a panel drew each time that a sensor was there.
pub(super) fn signatures(book: &Connection, serial: &str) -> rusqlite::Result<Vec<SignedRow>> {
    let signed = benches(book, serial)?.into_iter().filter_map(|bench| {
        Some(SignedRow {
            signature: bench.signature?,
            at: bench.at,
            passed: bench.passed,
        })
    });
    Ok(signed.collect())
}

/// Writes a note.
pub(super) fn note(
    book: &Connection,
    serial: &str,
    text: &str,
    who: &str,
    at: SystemTime,
) -> Result<(), NotDone> {
    let serial = entry::name("the serial", serial)?;
    let who = entry::person(who)?;
    let text = entry::said("the note", text)?;
    know(book, serial)?;
    let statement = "INSERT INTO notes (serial, at, who, text) VALUES (?, ?, ?, ?)";
    let values = params![serial, stamp(at), who, text];
    book.prepare_cached(statement)?.execute(values)?;
    Ok(())
}

/// Writes a test on the bench.
pub(super) fn bench(
    book: &Connection,
    serial: &str,
    test: &BenchEntry,
    at: SystemTime,
) -> Result<(), NotDone> {
    let serial = entry::name("the serial", serial)?;
    let who = entry::person(&test.who)?;
    let note = entry::text("the note", &test.note)?;
    let currents = entry::currents(test.signature.as_ref())?;
    know(book, serial)?;
    let statement = "INSERT INTO benches (serial, at, passed, who, note) VALUES (?, ?, ?, ?, ?)";
    let values = params![serial, stamp(at), test.passed, who, note];
    let bench = book.prepare_cached(statement)?.insert(values)?;
    let statement = "INSERT INTO currents (bench, name, current_a) VALUES (?, ?, ?)";
    let mut statement = book.prepare_cached(statement)?;
    for (name, current_a) in currents.into_iter().flatten() {
        statement.execute(params![bench, name, current_a])?;
    }
    Ok(())
}

/// Writes that a panel lies at a position.
pub(super) fn place(
    book: &Connection,
    serial: &str,
    position: &str,
    who: &str,
    at: SystemTime,
) -> Result<PlacedRow, NotDone> {
    let serial = entry::name("the serial", serial)?;
    let position = entry::name("the position", position)?;
    let who = entry::person(who)?;
    let row = PlacedRow {
        position: position.to_owned(),
        serial: serial.to_owned(),
    };
    let lies = "SELECT serial FROM positions WHERE position = ? AND to_at IS NULL";
    let mut lies = book.prepare_cached(lies)?;
    let there = lies.query_row([position], |row| row.get::<_, String>(0));
    if there.optional()?.as_deref() == Some(serial) {
        return Ok(row);
    }
    know(book, serial)?;
    let at = stamp(at);
    let close = "UPDATE positions SET to_at = ?
                 WHERE to_at IS NULL AND (serial = ? OR position = ?)";
    book.prepare_cached(close)?
        .execute(params![at, serial, position])?;
    let begin = "INSERT INTO positions (serial, position, from_at, who) VALUES (?, ?, ?, ?)";
    book.prepare_cached(begin)?
        .execute(params![serial, position, at, who])?;
    Ok(row)
}

/// Writes where a floor file says that panels lie, of those of which the book says nothing yet: what
/// people have placed since stands. Gives how many were written.
pub(super) fn enter(
    book: &Connection,
    lying: &[PlacedRow],
    at: SystemTime,
) -> Result<usize, NotDone> {
    let begin = "INSERT INTO positions (serial, position, from_at, who)
                 SELECT ?1, ?2, ?3, ?4
                 WHERE NOT EXISTS (SELECT 1 FROM positions WHERE serial = ?1)
                   AND NOT EXISTS (SELECT 1 FROM positions WHERE position = ?2 AND to_at IS NULL)";
    let mut begin = book.prepare_cached(begin)?;
    let at = stamp(at);
    let mut entered = 0;
    for PlacedRow { position, serial } in lying {
        let serial = entry::name("the serial", serial)?;
        let position = entry::name("the position", position)?;
        know(book, serial)?;
        entered += begin.execute(params![serial, position, at, DAEMON])?;
    }
    Ok(entered)
}

/// Writes that nothing lies at a position.
pub(super) fn unplace(book: &Connection, position: &str, at: SystemTime) -> Result<bool, NotDone> {
    let position = entry::name("the position", position)?;
    let close = "UPDATE positions SET to_at = ? WHERE to_at IS NULL AND position = ?";
    let closed = book
        .prepare_cached(close)?
        .execute(params![stamp(at), position])?;
    Ok(closed > 0)
}

/// Which panel lies where.
pub(super) fn placed(book: &Connection) -> rusqlite::Result<Vec<PlacedRow>> {
    let statement = "SELECT position, serial FROM positions WHERE to_at IS NULL ORDER BY position";
    let mut rows = book.prepare_cached(statement)?;
    let rows = rows.query_map([], |row| {
        Ok(PlacedRow {
            position: row.get(0)?,
            serial: row.get(1)?,
        })
    })?;
    rows.collect()
}
