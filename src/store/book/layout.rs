//! The book's tables, and how a file of an older litfloor becomes one of this.
//!
//! Nothing is ever deleted, and every table counts its rows (`AUTOINCREMENT`): the numbers of a table
//! run from 1 to what `sqlite_sequence` says without a gap, so that a damaged book can say how much
//! of it is lost. Panels are named by their serials and not by numbers, moments are text: whoever
//! opens the file with another program can read it.

use rusqlite::{Connection, TransactionBehavior};

/// Written into the file's head: `litb`.
pub(super) const APPLICATION: i32 = 0x6C69_7462;

/// What makes each layout of the one before; the first makes it of an empty file. A step that was
/// ever in use is never changed: add one.
const STEPS: [&str; 1] = [FIRST];

/// The number of this layout, in the file's head.
#[expect(
    clippy::cast_possible_wrap,
    clippy::cast_possible_truncation,
    reason = "a few steps"
)]
pub(super) const LAYOUT: i32 = STEPS.len() as i32;

const FIRST: &str = "
CREATE TABLE panels (
 id INTEGER PRIMARY KEY AUTOINCREMENT,
 serial TEXT NOT NULL UNIQUE CHECK (serial <> '')
) STRICT;
CREATE TABLE positions (
 id INTEGER PRIMARY KEY AUTOINCREMENT,
 serial TEXT NOT NULL REFERENCES panels (serial),
 position TEXT NOT NULL CHECK (position <> ''),
 from_at TEXT NOT NULL CHECK (from_at GLOB '????-??-??T??:??:??.???Z'),
 to_at TEXT CHECK (to_at GLOB '????-??-??T??:??:??.???Z'),
 who TEXT NOT NULL
) STRICT;
CREATE INDEX positions_of ON positions (serial);
CREATE UNIQUE INDEX lies_once ON positions (serial) WHERE to_at IS NULL;
CREATE UNIQUE INDEX holds_one ON positions (position) WHERE to_at IS NULL;
CREATE TABLE benches (
 id INTEGER PRIMARY KEY AUTOINCREMENT,
 serial TEXT NOT NULL REFERENCES panels (serial),
 at TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
 passed INTEGER NOT NULL CHECK (passed IN (0, 1)),
 who TEXT NOT NULL,
 note TEXT NOT NULL
) STRICT;
CREATE INDEX benches_of ON benches (serial);
CREATE TABLE currents (
 id INTEGER PRIMARY KEY AUTOINCREMENT,
 bench INTEGER NOT NULL REFERENCES benches (id),
 name TEXT NOT NULL,
 current_a REAL NOT NULL,
 UNIQUE (bench, name)
) STRICT;
CREATE TABLE notes (
 id INTEGER PRIMARY KEY AUTOINCREMENT,
 serial TEXT NOT NULL REFERENCES panels (serial),
 at TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
 who TEXT NOT NULL,
 text TEXT NOT NULL
) STRICT;
CREATE INDEX notes_of ON notes (serial);
CREATE TABLE faults (
 id INTEGER PRIMARY KEY AUTOINCREMENT,
 key TEXT NOT NULL,
 serial TEXT REFERENCES panels (serial),
 position TEXT,
 cause TEXT NOT NULL,
 place TEXT NOT NULL,
 text TEXT NOT NULL,
 sure TEXT NOT NULL,
 state TEXT NOT NULL CHECK (state IN ('found', 'being_repaired', 'repaired', 'proved', 'dismissed'))
) STRICT;
CREATE INDEX faults_of ON faults (serial);
CREATE UNIQUE INDEX open_once ON faults (key) WHERE state IN ('found', 'being_repaired', 'repaired');
CREATE TABLE steps (
 id INTEGER PRIMARY KEY AUTOINCREMENT,
 fault INTEGER NOT NULL REFERENCES faults (id),
 state TEXT NOT NULL CHECK (state IN ('found', 'being_repaired', 'repaired', 'proved', 'dismissed')),
 at TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
 who TEXT NOT NULL,
 note TEXT NOT NULL,
 evidence TEXT
) STRICT;
CREATE INDEX steps_of ON steps (fault);
";

/// A number of the file's head.
pub(super) fn number(connection: &Connection, name: &str) -> rusqlite::Result<i32> {
    connection.pragma_query_value(None, name, |row| row.get(0))
}

/// Brings an empty file, or one of an older layout, to this one: all of it or nothing.
pub(super) fn bring_up(connection: &mut Connection) -> rusqlite::Result<()> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    // Only now nobody else can be at it.
    let from = number(&transaction, "user_version")?;
    let done = usize::try_from(from).unwrap_or(0);
    for step in STEPS.iter().skip(done) {
        transaction.execute_batch(step)?;
    }
    if from < LAYOUT {
        transaction.pragma_update(None, "application_id", APPLICATION)?;
        transaction.pragma_update(None, "user_version", LAYOUT)?;
    }
    transaction.commit()
}
