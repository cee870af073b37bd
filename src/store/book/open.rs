//! Opening the file: whose it is, whether it is whole, and how it is written.
//!
//! The book is written rarely, by people who wait for it, and is carried away on a stick. So it has no
//! write-ahead log but `SQLite`'s rollback journal: between two entries the whole book is one file,
//! which can be copied and be read where nothing can be written. `synchronous = EXTRA` is `FULL`, and
//! syncs the directory as well once the journal is gone: without that a journal that comes back after
//! a power cut would take the last entry with it.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags, OptionalExtension};

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

/// Opens a book; makes one where there is none. One in a place where nothing can be written is opened to be
/// looked at.
pub(super) fn open(place: &BookPlace) -> Result<Connection, NotOpened> {
    let new = *place == BookPlace::Memory;
    let (path, connection) = match place {
        BookPlace::Memory => (Path::new(":memory:"), Connection::open_in_memory()),
        BookPlace::File(path) => {
            if let Err(flaw) = there(path) {
                return to_look_at(path).map_err(|()| NotOpened {
                    path: path.clone(),
                    flaw,
                });
            }
            (path.as_path(), Connection::open(path))
        }
    };
    let opened = connection.map_err(Flaw::from).and_then(|mut connection| {
        begin(&mut connection, new)?;
        Ok(connection)
    });
    opened.map_err(|flaw| NotOpened {
        path: path.to_owned(),
        flaw,
    })
}

/// A sound book of this layout that can't be written. What else is wrong with one that can't says less than
/// that it can't.
fn to_look_at(path: &Path) -> Result<Connection, ()> {
    let look = || -> Result<Connection, Flaw> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(path, flags)?;
        connection.busy_timeout(PATIENCE)?;
        whose(&connection)?;
        whole(&connection)?;
        Ok(connection)
    };
    let connection = look().map_err(drop)?;
    let layout = layout::number(&connection, "user_version").map_err(drop)?;
    (layout == LAYOUT).then_some(connection).ok_or(())
}

/// Sees to it that there is a file which only its owner can read. A new book is made under another name
/// and gets its own when it is whole: an empty file is never a book that has just begun, but one that
/// was lost.
fn there(path: &Path) -> Result<(), Flaw> {
    path.parent().map_or(Ok(()), make)?;
    if path.try_exists()? {
        let file = private(path)?;
        return if file.metadata()?.len() == 0 {
            Err(Flaw::Damaged("it is empty".to_owned()))
        } else {
            Ok(())
        };
    }
    let mut name = path.as_os_str().to_owned();
    name.push(format!(".{}.new", std::process::id()));
    let new = PathBuf::from(name);
    let made = (|| {
        private(&new)?;
        let mut connection = Connection::open(&new)?;
        begin(&mut connection, true)?;
        drop(connection);
        // Never over a book that somebody else has made meanwhile.
        match fs::hard_link(&new, path) {
            Ok(()) => {}
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {}
            // Some file systems have no such links.
            Err(_) => fs::rename(&new, path)?,
        }
        // The name is on the disk as well.
        if let Some(directory) = path
            .parent()
            .filter(|directory| !directory.as_os_str().is_empty())
        {
            fs::File::open(directory)?.sync_all()?;
        }
        Ok(())
    })();
    // Gone already if it was renamed.
    let _ = fs::remove_file(&new);
    made
}

/// Looks whether an old book is sound, and makes it ready to be written.
fn begin(connection: &mut Connection, new: bool) -> Result<(), Flaw> {
    connection.busy_timeout(PATIENCE)?;
    if !new {
        whose(connection)?;
        whole(connection)?;
    }
    connection.pragma_update(None, "foreign_keys", true)?;
    connection.pragma_update(None, "journal_mode", "delete")?;
    connection.pragma_update(None, "synchronous", "extra")?;
    // What is freed is zeroed, so that no old copy of a row is taken for one when a damaged book is read.
    connection.pragma_update(None, "secure_delete", true)?;
    layout::bring_up(connection)?;
    Ok(())
}

/// Whether the file is a book that this litfloor knows; a new one becomes one.
pub(super) fn whose(connection: &Connection) -> Result<(), Flaw> {
    let application = layout::number(connection, "application_id")?;
    let version = layout::number(connection, "user_version")?;
    match (application, version) {
        (APPLICATION, 1..=LAYOUT) => Ok(()),
        (APPLICATION, LAYOUT..) => Err(Flaw::Newer(version)),
        (0, 0) => Err(Flaw::NoBook),
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
    drop(lonely);
    let unlike = "SELECT id FROM faults WHERE state IS NOT
                  (SELECT state FROM steps WHERE fault = faults.id ORDER BY id DESC LIMIT 1)";
    let unlike = connection.query_row(unlike, [], |row| row.get::<_, i64>(0));
    if let Some(id) = unlike.optional()? {
        let found = format!("fault {id} is not what its last step says");
        return Err(Flaw::Damaged(found));
    }
    Ok(())
}

impl From<std::io::Error> for Flaw {
    fn from(error: std::io::Error) -> Self {
        Self::NotHad(error.to_string())
    }
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
