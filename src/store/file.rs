//! The file `history.sqlite3` of the state directory: who may write it, its tables, and what happens
//! to one that can't be read.

use std::fmt;
use std::fs::{self, File, OpenOptions};
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, ErrorCode, OpenFlags};

/// The file's name.
pub(super) const NAME: &str = "history.sqlite3";

/// Written into the file's head: `litf`, and the number of its layout.
const APPLICATION: i32 = 0x6C69_7466;
const LAYOUT: i32 = 1;

/// The pages of a file that a connection keeps in memory, in KiB; `SQLite` by itself keeps four times as many,
/// and fills them in the course of the night.
const CACHE_KIB: i32 = 512;

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
    /// What is there has another layout: an older or newer litfloor wrote it.
    #[error("{}", Flaw::OtherVersion)]
    OtherVersion,
    /// The directory or a file in it can't be had.
    #[error("{}", in_words(.0))]
    Io(#[from] std::io::Error),
    /// `SQLite` says no.
    #[error("{}", said(.0))]
    Sqlite(#[from] rusqlite::Error),
}

/// What the system says, where its own words can be understood.
fn in_words(error: &std::io::Error) -> String {
    use std::io::ErrorKind::{AlreadyExists, NotADirectory};
    match error.kind() {
        AlreadyExists | NotADirectory => {
            "the state directory, or one above it, is a file, and a directory is wanted".to_owned()
        }
        _ => error.to_string(),
    }
}

/// Whether an error says that the file is broken or no history at all.
pub(super) fn broken(error: &rusqlite::Error) -> bool {
    matches!(
        error.sqlite_error_code(),
        Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase)
    ) || matches!(error, rusqlite::Error::InvalidQuery)
}

/// Why a history is moved aside.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Flaw {
    /// It is broken, or no history at all.
    Unreadable,
    /// An older or newer litfloor wrote it.
    OtherVersion,
}

impl Flaw {
    /// For the name of the file.
    const fn word(self) -> &'static str {
        match self {
            Self::Unreadable => "unreadable",
            Self::OtherVersion => "other-version",
        }
    }
}

impl fmt::Display for Flaw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Unreadable => "it could not be read",
            Self::OtherVersion => "it is of another version of litfloor",
        })
    }
}

impl Unopened {
    /// What is wrong with the file, if that is why.
    fn flaw(&self) -> Option<Flaw> {
        match self {
            Self::OtherVersion => Some(Flaw::OtherVersion),
            Self::Sqlite(error) if broken(error) => Some(Flaw::Unreadable),
            _ => None,
        }
    }
}

/// What an error says, without the place of the file: everyone can read it.
pub(super) fn said(error: &rusqlite::Error) -> String {
    match error {
        rusqlite::Error::SqliteFailure(code, _) if code.code == ErrorCode::DiskFull => {
            format!("the disk is full: make room where {NAME} lies")
        }
        rusqlite::Error::SqliteFailure(code, _) => code.to_string(),
        other => other.to_string(),
    }
}

/// The file, open for writing. While it lives no other process may.
#[derive(Debug)]
pub(super) struct Opened {
    pub(super) connection: Connection,
    /// What was moved out of the way, if something was, and why.
    pub(super) moved: Option<(PathBuf, Flaw)>,
    _lock: File,
}

/// Opens the file of a directory, which is made if it must. One that is broken or of another version
/// is moved aside, under a name with `unix_s`.
pub(super) fn open(directory: &Path, unix_s: i64) -> Result<Opened, Unopened> {
    make(directory)?;
    let lock = private(&directory.join("history.lock"))?;
    lock.try_lock().map_err(|error| match error {
        fs::TryLockError::WouldBlock => Unopened::Taken,
        fs::TryLockError::Error(error) => Unopened::Io(error),
    })?;
    let path = directory.join(NAME);
    let (connection, moved) = match begin(&path) {
        Ok(connection) => (connection, None),
        Err(error) => {
            let Some(flaw) = error.flaw() else {
                return Err(error);
            };
            let moved = move_aside(&path, flaw, unix_s)?;
            (begin(&path)?, Some((moved, flaw)))
        }
    };
    Ok(Opened {
        connection,
        moved,
        _lock: lock,
    })
}

fn begin(path: &Path) -> Result<Connection, Unopened> {
    drop(private(path)?);
    // Left over by a process that was killed; SQLite gives new ones the rights of the file.
    for end in BESIDE {
        let beside = with_end(path, end);
        if beside.exists() {
            drop(private(&beside)?);
        }
    }
    let connection = Connection::open(path)?;
    prepare(&connection)?;
    Ok(connection)
}

/// What `SQLite` keeps beside a file.
const BESIDE: [&str; 2] = ["-wal", "-shm"];

fn with_end(path: &Path, end: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(end);
    PathBuf::from(name)
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
    connection.pragma_update(None, "cache_size", -CACHE_KIB)?;
    Ok(connection)
}

pub(super) fn make(directory: &Path) -> std::io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(directory)
}

/// A file that only its owner can read, made if it is not there. One that others could read is
/// taken from them, where the file system has such rights.
pub(super) fn private(path: &Path) -> std::io::Result<File> {
    let mut options = OpenOptions::new();
    options.read(true).append(true).create(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let file = options.open(path)?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let kept = file.set_permissions(fs::Permissions::from_mode(0o600));
        if let Err(error) = kept {
            tracing::warn!(path = %path.display(), %error, "others may be able to read this file");
        }
    }
    Ok(file)
}

fn prepare(connection: &Connection) -> Result<(), Unopened> {
    connection.busy_timeout(PATIENCE)?;
    let number = |name| connection.pragma_query_value(None, name, |row| row.get::<_, i32>(0));
    let (application, layout) = (number("application_id")?, number("user_version")?);
    match (application, layout) {
        (0, 0) | (APPLICATION, LAYOUT) => {}
        (APPLICATION, _) => return Err(Unopened::OtherVersion),
        // What is there is no history.
        _ => return Err(rusqlite::Error::InvalidQuery.into()),
    }
    connection.pragma_update(None, "cache_size", -CACHE_KIB)?;
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
pub(super) fn move_aside(path: &Path, flaw: Flaw, unix_s: i64) -> std::io::Result<PathBuf> {
    let name = |count: u32| {
        let more = if count == 0 {
            String::new()
        } else {
            format!("-{count}")
        };
        let word = flaw.word();
        path.with_file_name(format!("history-{word}-{unix_s}{more}.sqlite3"))
    };
    let free = (0..1_000).map(name).find(|name| !name.exists());
    let free = free.ok_or_else(|| std::io::Error::other("too many histories lie there"))?;
    fs::rename(path, &free)?;
    for end in BESIDE {
        match fs::rename(with_end(path, end), with_end(&free, end)) {
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
            let (moved, flaw) = opened.moved.unwrap();
            assert_eq!(flaw, Flaw::Unreadable);
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
    fn a_history_of_another_version_is_called_so() {
        let directory = tempfile::tempdir().unwrap();
        let opened = open(directory.path(), 1).unwrap();
        let newer = LAYOUT + 1;
        opened
            .connection
            .pragma_update(None, "user_version", newer)
            .unwrap();
        drop(opened);
        let (moved, flaw) = open(directory.path(), 79).unwrap().moved.unwrap();
        assert_eq!(flaw, Flaw::OtherVersion);
        assert_eq!(flaw.to_string(), "it is of another version of litfloor");
        let name = moved.file_name().unwrap().to_str().unwrap();
        assert_eq!(name, "history-other-version-79.sqlite3");
    }

    #[cfg(unix)]
    #[test]
    fn files_that_others_could_read_are_taken_from_them() {
        use std::os::unix::fs::PermissionsExt;
        let directory = tempfile::tempdir().unwrap();
        drop(open(directory.path(), 1).unwrap());
        let names = [NAME, "history.lock"].map(|name| directory.path().join(name));
        for path in &names {
            fs::set_permissions(path, fs::Permissions::from_mode(0o644)).unwrap();
        }
        let _opened = open(directory.path(), 1).unwrap();
        for path in &names {
            let mode = fs::metadata(path).unwrap().permissions().mode();
            assert_eq!(mode & 0o777, 0o600, "{}", path.display());
        }
    }

    #[test]
    fn a_directory_that_can_not_be_is_said() {
        let directory = tempfile::tempdir().unwrap();
        let taken = directory.path().join("taken");
        fs::write(&taken, "").unwrap();
        assert!(matches!(open(&taken, 1), Err(Unopened::Io(_))));
    }
}
