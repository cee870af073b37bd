//! The file `history.sqlite3` of the state directory: who may write it, its tables, and what happens
//! to one that can't be read.

use std::fs::{self, File, OpenOptions};
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, ErrorCode, OpenFlags};

/// The file's name.
pub(super) const NAME: &str = "history.sqlite3";

/// Written into the file's head: `litf`, and the number of its layout.
const APPLICATION: i32 = 0x6C69_7466;
const LAYOUT: i32 = 1;

/// So long a statement waits for another that holds the file.
const PATIENCE: Duration = Duration::from_secs(2);

/// What a row of `seconds` and one of `minutes` hold. Integers are stored by `SQLite` in as few
/// bytes as they need, zeros in none.
const COLUMNS: &str = "
        at INTEGER NOT NULL,
        series INTEGER NOT NULL,
        covered_ms INTEGER NOT NULL,
        asked_mean_ma INTEGER NOT NULL,
        asked_max_ma INTEGER NOT NULL,
        draw_min_ma INTEGER NOT NULL,
        draw_mean_ma INTEGER NOT NULL,
        draw_max_ma INTEGER NOT NULL,
        limit_ma INTEGER,
        scale_min_e4 INTEGER NOT NULL,
        mains_mean_mw INTEGER NOT NULL,
        capped_ms INTEGER NOT NULL,
        over_ms INTEGER NOT NULL";

/// `seconds` is read by time and pruned all the time, `minutes` is read by element.
fn tables() -> String {
    format!(
        "
    CREATE TABLE IF NOT EXISTS series (
        id INTEGER PRIMARY KEY,
        kind TEXT NOT NULL,
        name TEXT NOT NULL,
        UNIQUE (kind, name)
    );
    CREATE TABLE IF NOT EXISTS seconds ({COLUMNS},
        PRIMARY KEY (at, series)
    ) WITHOUT ROWID;
    CREATE TABLE IF NOT EXISTS minutes ({COLUMNS},
        PRIMARY KEY (series, at)
    ) WITHOUT ROWID;
"
    )
}

/// Why there is no file to write.
#[derive(Debug, thiserror::Error)]
pub(super) enum Unopened {
    /// Another process writes it.
    #[error("another litfloor writes there")]
    Taken,
    /// The directory or a file in it can't be had.
    #[error(transparent)]
    Io(#[from] std::io::Error),
    /// `SQLite` says no.
    #[error("{}", said(.0))]
    Sqlite(#[from] rusqlite::Error),
}

/// Whether an error says that the file is broken or no history at all.
pub(super) fn broken(error: &rusqlite::Error) -> bool {
    matches!(
        error.sqlite_error_code(),
        Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase)
    ) || matches!(error, rusqlite::Error::InvalidQuery)
}

/// What an error says, without the place of the file: everyone can read it.
pub(super) fn said(error: &rusqlite::Error) -> String {
    match error {
        rusqlite::Error::SqliteFailure(code, _) => code.to_string(),
        other => other.to_string(),
    }
}

/// The file, open for writing. While it lives no other process may.
#[derive(Debug)]
pub(super) struct Opened {
    pub(super) connection: Connection,
    /// What was moved out of the way, if something was.
    pub(super) moved: Option<PathBuf>,
    _lock: File,
}

/// Opens the file of a directory, which is made if it must. One that is broken is moved aside, under
/// a name with `unix_s`.
pub(super) fn open(directory: &Path, unix_s: i64) -> Result<Opened, Unopened> {
    make(directory)?;
    let lock = private(&directory.join("history.lock"))?;
    lock.try_lock().map_err(|error| match error {
        fs::TryLockError::WouldBlock => Unopened::Taken,
        fs::TryLockError::Error(error) => Unopened::Io(error),
    })?;
    let path = directory.join(NAME);
    drop(private(&path)?);
    let tried = Connection::open(&path).and_then(|connection| {
        prepare(&connection)?;
        Ok(connection)
    });
    match tried {
        Ok(connection) => Ok(Opened {
            connection,
            moved: None,
            _lock: lock,
        }),
        Err(error) if broken(&error) => {
            let moved = move_aside(&path, unix_s)?;
            drop(private(&path)?);
            let connection = Connection::open(&path)?;
            prepare(&connection)?;
            Ok(Opened {
                connection,
                moved: Some(moved),
                _lock: lock,
            })
        }
        Err(error) => Err(error.into()),
    }
}

/// A history that lives as long as the process.
pub(super) fn in_memory() -> rusqlite::Result<Connection> {
    let connection = Connection::open_in_memory()?;
    connection.execute_batch(&tables())?;
    Ok(connection)
}

/// A connection that can only read.
pub(super) fn open_to_read(directory: &Path) -> rusqlite::Result<Connection> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(directory.join(NAME), flags)?;
    connection.busy_timeout(PATIENCE)?;
    Ok(connection)
}

fn make(directory: &Path) -> std::io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(directory)
}

/// A file that only its owner can read, made if it is not there.
fn private(path: &Path) -> std::io::Result<File> {
    let mut options = OpenOptions::new();
    options.read(true).append(true).create(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path)
}

fn prepare(connection: &Connection) -> rusqlite::Result<()> {
    connection.busy_timeout(PATIENCE)?;
    let number = |name| connection.pragma_query_value(None, name, |row| row.get::<_, i32>(0));
    let (application, layout) = (number("application_id")?, number("user_version")?);
    if ![(0, 0), (APPLICATION, LAYOUT)].contains(&(application, layout)) {
        // What is there is no history of this layout.
        return Err(rusqlite::Error::InvalidQuery);
    }
    // With a write-ahead log, readers and the writer don't wait for each other.
    connection.pragma_update(None, "journal_mode", "wal")?;
    connection.pragma_update(None, "synchronous", "normal")?;
    connection.pragma_update(None, "journal_size_limit", 4 << 20)?;
    connection.execute_batch(&tables())?;
    connection.pragma_update(None, "application_id", APPLICATION)?;
    connection.pragma_update(None, "user_version", LAYOUT)?;
    // A file that is broken in its head is found here, one that is broken inside when that is read.
    let statement = "SELECT covered_ms, over_ms FROM minutes LIMIT 1";
    connection.prepare(statement)?.exists([])?;
    Ok(())
}

/// Moves the file and what belongs to it out of the way. Gives its new name.
pub(super) fn move_aside(path: &Path, unix_s: i64) -> std::io::Result<PathBuf> {
    let name = |count: u32| {
        let more = if count == 0 {
            String::new()
        } else {
            format!("-{count}")
        };
        path.with_file_name(format!("history-unreadable-{unix_s}{more}.sqlite3"))
    };
    let free = (0..1_000).map(name).find(|name| !name.exists());
    let free = free.ok_or_else(|| std::io::Error::other("too many unreadable histories"))?;
    fs::rename(path, &free)?;
    for end in ["-wal", "-shm"] {
        let with = |path: &Path| {
            let mut name = path.as_os_str().to_owned();
            name.push(end);
            PathBuf::from(name)
        };
        match fs::rename(with(path), with(&free)) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(error),
            _ => {}
        }
    }
    Ok(free)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_process_writes_and_nobody_else_reads() {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("a/b");
        let first = open(&path, 1).unwrap();
        assert!(matches!(open(&path, 1), Err(Unopened::Taken)));
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
            assert_eq!(mode(&path), 0o700);
            assert_eq!(mode(&path.join(NAME)), 0o600);
        }
        drop(first);
        assert!(open(&path, 1).unwrap().moved.is_none(), "it is read again");
    }

    #[test]
    fn what_is_no_history_is_moved_aside_and_kept() {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join(NAME);
        for round in 0..2 {
            fs::write(
                &path,
                "not a database, but a long text of somebody".repeat(99),
            )
            .unwrap();
            let opened = open(directory.path(), 77).unwrap();
            let moved = opened.moved.unwrap();
            assert!(fs::read_to_string(&moved).unwrap().starts_with("not a"));
            let end = if round == 0 {
                "77.sqlite3"
            } else {
                "77-1.sqlite3"
            };
            assert!(moved.to_str().unwrap().ends_with(end), "{moved:?}");
        }
        // A database of somebody else is one thing more that is no history.
        fs::remove_file(&path).unwrap();
        let other = Connection::open(&path).unwrap();
        other.pragma_update(None, "user_version", 9).unwrap();
        drop(other);
        assert!(open(directory.path(), 78).unwrap().moved.is_some());
    }

    #[test]
    fn a_directory_that_can_not_be_is_said() {
        let directory = tempfile::tempdir().unwrap();
        let taken = directory.path().join("taken");
        fs::write(&taken, "").unwrap();
        assert!(matches!(open(&taken, 1), Err(Unopened::Io(_))));
    }
}
