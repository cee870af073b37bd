//! Opening the file: whose it is, whether it is whole, and how it is written.
//!
//! The book is written rarely, by people who wait for it, and is carried away on a stick. So it has no
//! write-ahead log but `SQLite`'s rollback journal: between two entries the whole book is one file,
//! which can be copied and be read where nothing can be written. `synchronous = EXTRA` is `FULL`, and
//! syncs the directory as well once the journal is gone: without that a journal that comes back after
//! a power cut would take the last entry with it.

use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::Connection;

use super::layout::{self, APPLICATION, LAYOUT};
use crate::store::file::{broken, make, private, said};

/// The file's name in the state directory.
pub const NAME: &str = "book.sqlite3";

/// So long a statement waits for another program that holds the file.
const PATIENCE: Duration = Duration::from_secs(5);

/// Where the book is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BookPlace {
    /// Only as long as the process lives.
    Memory,
    /// In this file; its directory is made if it must.
    File(PathBuf),
}

/// What is wrong with a file that is no sound book.
#[derive(Debug, thiserror::Error)]
pub enum Flaw {
    /// It is broken: what was found.
    #[error("it is damaged: {0}")]
    Damaged(String),
    /// It is no `SQLite` file, or one of another program.
    #[error("it is no book of litfloor")]
    NoBook,
    /// A newer litfloor wrote it.
    #[error(
        "a newer litfloor wrote it: its layout is {0}, and this one knows those up to {LAYOUT}"
    )]
    Newer(i32),
    /// It can't be had.
    #[error("{0}")]
    NotHad(String),
}

/// Why there is no book. Nothing was changed.
#[derive(Debug, thiserror::Error)]
#[error("{}", .flaw.told(.path))]
pub struct NotOpened {
    /// Which file.
    pub path: PathBuf,
    /// What is wrong with it.
    pub flaw: Flaw,
}

impl Flaw {
    /// What is wrong, with which file, and what to do.
    fn told(&self, path: &Path) -> String {
        let file = path.display();
        let advice = match self {
            Self::Damaged(_) => format!(
                "keep the file as it is; nothing has been changed in it\n  \
                 = help: “litfloor book recover --book {file}” writes what can be read to a new file\n  \
                 = help: “litfloor book export --book {file} --format csv” prints it\n  \
                 = help: with the old file moved away and the new one in its place, start again"
            ),
            Self::NoBook => "move it away, or choose another directory with --state; a new book is \
                             begun where there is none\n  \
                             = help: if it was the book, “litfloor book recover” may find some of it"
                .to_owned(),
            Self::Newer(_) => format!(
                "run the litfloor that wrote it, or a newer one\n  \
                 = help: to go on without it, move {file} away; it is not lost by that"
            ),
            Self::NotHad(_) => {
                "see who owns it and its directory, and whether the disk is there and has room"
                    .to_owned()
            }
        };
        format!(
            "error: the book of repairs can't be used: {self}\n  --> {file}\n  = note: {advice}"
        )
    }
}

/// Opens a book; makes one where there is none.
pub(super) fn open(place: &BookPlace) -> Result<Connection, NotOpened> {
    let (path, connection) = match place {
        BookPlace::Memory => (Path::new(":memory:"), Connection::open_in_memory()),
        BookPlace::File(path) => {
            let made = path.parent().map_or(Ok(()), make);
            if let Err(error) = made.and_then(|()| private(path)) {
                return Err(NotOpened {
                    path: path.clone(),
                    flaw: Flaw::NotHad(error.to_string()),
                });
            }
            (path.as_path(), Connection::open(path))
        }
    };
    let opened = connection.map_err(Flaw::from).and_then(|mut connection| {
        begin(&mut connection)?;
        Ok(connection)
    });
    opened.map_err(|flaw| NotOpened {
        path: path.to_owned(),
        flaw,
    })
}

fn begin(connection: &mut Connection) -> Result<(), Flaw> {
    connection.busy_timeout(PATIENCE)?;
    whose(connection)?;
    whole(connection)?;
    connection.pragma_update(None, "foreign_keys", true)?;
    connection.pragma_update(None, "journal_mode", "delete")?;
    connection.pragma_update(None, "synchronous", "extra")?;
    layout::bring_up(connection)?;
    Ok(())
}

/// Whether the file is a book that this litfloor knows; an empty one becomes one.
fn whose(connection: &Connection) -> Result<(), Flaw> {
    let application = layout::number(connection, "application_id")?;
    let version = layout::number(connection, "user_version")?;
    match (application, version) {
        (APPLICATION, 1..=LAYOUT) => Ok(()),
        (APPLICATION, LAYOUT..) => Err(Flaw::Newer(version)),
        (0, 0) => {
            let tables = "SELECT EXISTS (SELECT 1 FROM sqlite_schema)";
            let tables: bool = connection.query_row(tables, [], |row| row.get(0))?;
            if tables { Err(Flaw::NoBook) } else { Ok(()) }
        }
        (APPLICATION, _) => Err(Flaw::Damaged("its head has no layout".to_owned())),
        _ => Err(Flaw::NoBook),
    }
}

/// Whether all of it can be read and fits together.
pub(super) fn whole(connection: &Connection) -> Result<(), Flaw> {
    let found: String = connection.query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))?;
    if found != "ok" {
        return Err(Flaw::Damaged(found));
    }
    let mut lonely = connection.prepare("PRAGMA foreign_key_check")?;
    if lonely.exists([])? {
        return Err(Flaw::Damaged(
            "a row belongs to one that is not there".to_owned(),
        ));
    }
    Ok(())
}

impl From<rusqlite::Error> for Flaw {
    fn from(error: rusqlite::Error) -> Self {
        use rusqlite::ErrorCode;
        match error.sqlite_error_code() {
            Some(ErrorCode::NotADatabase) => Self::NoBook,
            _ if broken(&error) => Self::Damaged(said(&error)),
            _ => Self::NotHad(said(&error)),
        }
    }
}
