//! A book looked at from outside, and what can be read of a damaged one.
//!
//! The file itself is only read. A damaged one, or one beside which a killed litfloor left a journal, is
//! copied first, and the copy is put right: first what `SQLite` reads from the beginning of each table,
//! then what lies in the bare pages besides.

use std::path::{Path, PathBuf};
use std::time::Duration;
use std::{env, fs, io, process};

use rusqlite::{Connection, OpenFlags};

use super::contents::{Contents, FORMS, read_into};
use super::open::{self, Flaw, NotOpened};
use super::pages;

/// So long another program is waited for.
const PATIENCE: Duration = Duration::from_secs(5);

/// What can be read of a book.
#[derive(Debug)]
pub struct Looked {
    /// All that can be read.
    pub contents: Contents,
    /// Nothing if it is sound.
    pub flaw: Option<Flaw>,
    /// How much that is, table by table, in the order of [`FORMS`].
    pub counts: Vec<Count>,
}

/// What is left of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Count {
    /// Which.
    pub table: &'static str,
    /// Rows that are there.
    pub kept: u64,
    /// Rows that are not, by the numbers that are missing.
    pub lost: u64,
    /// Whether more may be lost than that: how many there were can't be read.
    pub at_least: bool,
}

/// Reads a book without changing anything.
///
/// # Errors
/// When it can't be had, is no book, or is of a newer litfloor.
pub fn look(path: &Path) -> Result<Looked, NotOpened> {
    let not = |flaw| NotOpened {
        path: path.to_owned(),
        flaw,
    };
    if let Err(error) = fs::File::open(path) {
        return Err(not(error.into()));
    }
    match sound(path) {
        Ok(contents) => Ok(Looked {
            counts: counts(&contents, [const { None }; FORMS.len()]),
            contents,
            flaw: None,
        }),
        Err(flaw @ Flaw::Newer(_)) => Err(not(flaw)),
        Err(flaw) => {
            let looked = salvage(path, flaw).map_err(|error| not(error.into()))?;
            let empty = looked.counts.iter().all(|count| count.kept == 0);
            match looked.flaw {
                Some(flaw @ Flaw::NoBook) if empty => Err(not(flaw)),
                _ => Ok(looked),
            }
        }
    }
}

/// The contents of a sound book, as of one moment.
fn sound(path: &Path) -> Result<Contents, Flaw> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    checked(Connection::open_with_flags(path, flags)?)
}

fn checked(mut connection: Connection) -> Result<Contents, Flaw> {
    connection.busy_timeout(PATIENCE)?;
    let book = connection.transaction()?;
    open::whose(&book)?;
    open::whole(&book)?;
    Ok(Contents::read(&book)?)
}

/// A directory of our own, gone when it is dropped.
struct Aside(PathBuf);

impl Drop for Aside {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

impl Aside {
    /// With a copy of a book and of the journal beside it.
    fn with(path: &Path) -> io::Result<Self> {
        let mut builder = fs::DirBuilder::new();
        #[cfg(unix)]
        std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
        let name = |count: u32| format!("litfloor-book-{}-{count}", process::id());
        let names = (0..1_000).map(|count| env::temp_dir().join(name(count)));
        // One that is there already belongs to somebody else.
        let mut made = names.map(|path| builder.create(&path).map(|()| path));
        let free = |made: &io::Result<PathBuf>| !matches!(made, Err(error) if error.kind() == io::ErrorKind::AlreadyExists);
        let made = made.find(free);
        let aside = Self(made.ok_or_else(|| io::Error::other("no name is free"))??);
        fs::copy(path, aside.book())?;
        match fs::copy(beside(path), beside(&aside.book())) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
            _ => Ok(aside),
        }
    }

    fn book(&self) -> PathBuf {
        self.0.join(open::NAME)
    }
}

fn beside(path: &Path) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push("-journal");
    PathBuf::from(name)
}

/// All that can be read of a book that is not sound.
fn salvage(path: &Path, flaw: Flaw) -> io::Result<Looked> {
    let mut contents = Contents::default();
    let mut had = [const { None }; FORMS.len()];
    let file = match Aside::with(path) {
        Ok(aside) => {
            // What a killed process left half written is undone by this.
            let undone = Connection::open(aside.book());
            if let Ok(contents) = undone.map_err(Flaw::from).and_then(checked) {
                return Ok(Looked {
                    counts: counts(&contents, [const { None }; FORMS.len()]),
                    contents,
                    flaw: None,
                });
            }
            if let Ok(copy) = Connection::open(aside.book()) {
                for (at, form) in FORMS.iter().enumerate() {
                    // Until it can't be read further.
                    let _ = read_into(&copy, form, &mut contents.tables[at]);
                    let seq = "SELECT seq FROM sqlite_sequence WHERE name = ?";
                    had[at] = copy.query_row(seq, [form.name], |row| row.get(0)).ok();
                }
            }
            fs::read(aside.book())?
        }
        // No room for a copy: the bare pages are read without.
        Err(error) => {
            tracing::warn!(%error, "the damaged book could not be copied to be read");
            fs::read(path)?
        }
    };
    let scanned = pages::scan(&file);
    for (at, rows) in scanned.contents.tables.into_iter().enumerate() {
        for (id, row) in rows {
            contents.tables[at].entry(id).or_insert(row);
        }
        had[at] = had[at].max(scanned.had[at]);
    }
    Ok(Looked {
        counts: counts(&contents, had),
        contents,
        flaw: Some(flaw),
    })
}

/// What is left of each table that had so many rows.
fn counts(contents: &Contents, had: [Option<i64>; FORMS.len()]) -> Vec<Count> {
    let each = FORMS.iter().zip(&contents.tables).zip(had);
    let count = each.map(|((form, rows), had)| {
        let last = rows.last_key_value().map_or(0, |(id, _)| *id);
        let all = had.unwrap_or(0).max(last).unsigned_abs();
        let kept = rows.len() as u64;
        Count {
            table: form.name,
            kept,
            lost: all.saturating_sub(kept),
            at_least: had.is_none(),
        }
    });
    count.collect()
}
