//! The one thread that writes. Whatever fails here is said and tried again; nothing waits for it.

use std::path::PathBuf;
use std::sync::mpsc::Receiver;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use rusqlite::Connection;

use super::fold::{Fold, Rows};
use super::{clock, file, table};
use crate::power::record::Step;
use crate::power::series::Recording;

/// Time between two transactions, in seconds of uptime.
const COMMIT_EVERY_S: f64 = 5.0;

/// Time between two looks for what is too old.
const PRUNE_EVERY_S: f64 = 60.0;

/// The wall clock is trusted once it has gone along with the uptime for so long, in seconds.
const TRUSTED_AFTER_S: f64 = 3_600.0;

/// A pause before this process that is longer may be a wrong clock, in seconds.
const LEAP_S: i64 = 30 * 86_400;

/// The wall clock was set if it is off by more than this, in milliseconds.
const SET_BY_MS: i64 = 30_000;

/// The same trouble is logged again after so long, in seconds of uptime.
const LOG_EVERY_S: f64 = 600.0;

/// Rows that wait while nothing can be written; then the oldest are lost.
const MOST_WAITING: usize = 100_000;

/// Where the history is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// Only as long as the process lives, by wish.
    Memory,
    /// In a file of this directory.
    Directory(PathBuf),
    /// Only as long as the process lives, because there is no place for it: why.
    Nowhere(String),
}

/// What the writer hears.
#[derive(Debug)]
pub(super) enum Message {
    /// What happened until `unix_ms` of the wall clock.
    Step {
        /// Milliseconds since 1970.
        unix_ms: i64,
        /// What happened.
        step: Step,
    },
    /// A reader found the file broken.
    Suspect,
    /// There will be no more.
    End,
}

/// What writer and readers share.
#[derive(Debug)]
pub(super) struct Common {
    pub(super) place: Place,
    /// The history itself, when it is in no file.
    pub(super) memory: Option<Mutex<Connection>>,
    pub(super) recording: Mutex<Recording>,
}

impl Common {
    pub(super) fn new(place: Place) -> rusqlite::Result<Self> {
        let in_file = matches!(place, Place::Directory(_));
        let memory = if in_file {
            None
        } else {
            Some(Mutex::new(file::in_memory()?))
        };
        let trouble = match &place {
            Place::Nowhere(why) => Some(why.clone()),
            _ => None,
        };
        Ok(Self {
            place,
            memory,
            recording: Mutex::new(Recording {
                in_file,
                trouble,
                lost_rows: 0,
            }),
        })
    }

    pub(super) fn recording(&self) -> MutexGuard<'_, Recording> {
        self.recording
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
    }
}

pub(super) struct Writer {
    common: Arc<Common>,
    opened: Option<file::Opened>,
    fold: Fold,
    waiting: Rows,
    ids: table::Ids,
    /// Uptime of the newest step.
    now_s: f64,
    unix_ms: i64,
    commit_at_s: f64,
    prune_at_s: f64,
    /// Wall clock less uptime, in milliseconds, and since which uptime it has been so.
    offset: Option<(i64, f64)>,
    /// The newest minute that was in the file when it was opened, and at which uptime that was.
    found: Option<(i64, f64)>,
    logged: Option<(String, f64)>,
}

impl Writer {
    pub(super) fn new(common: Arc<Common>) -> Self {
        Self {
            common,
            opened: None,
            fold: Fold::default(),
            waiting: Rows::default(),
            ids: table::Ids::default(),
            now_s: 0.0,
            unix_ms: clock::unix_ms(),
            commit_at_s: 0.0,
            prune_at_s: 0.0,
            offset: None,
            found: None,
            logged: None,
        }
    }

    /// Writes until it is told to end; then what has begun is written, too.
    pub(super) fn run(mut self, messages: &Receiver<Message>) {
        if let Err(why) = self.open() {
            self.fail(&why);
        }
        while let Ok(message) = messages.recv() {
            match message {
                Message::Step { unix_ms, step } => self.take(unix_ms, &step),
                Message::Suspect => self.examine(),
                Message::End => break,
            }
        }
        self.fold.end(&mut self.waiting);
        self.commit();
    }

    fn take(&mut self, unix_ms: i64, step: &Step) {
        self.fold.take(unix_ms, step, &mut self.waiting);
        (self.now_s, self.unix_ms) = (step.at_s, unix_ms);
        #[expect(clippy::cast_possible_truncation, reason = "an uptime")]
        let offset = unix_ms - (step.at_s * 1e3) as i64;
        if self
            .offset
            .is_none_or(|(known, _)| (known - offset).abs() > SET_BY_MS)
        {
            self.offset = Some((offset, step.at_s));
        }
        if step.at_s >= self.commit_at_s {
            self.commit_at_s = step.at_s + COMMIT_EVERY_S;
            self.commit();
        }
    }

    /// Does `work` with the history. A file that is not open is opened first.
    fn with<T>(
        &mut self,
        work: impl FnOnce(&mut Connection, &mut table::Ids) -> rusqlite::Result<T>,
    ) -> Result<T, String> {
        if self.opened.is_none() {
            self.open()?;
        }
        let result = if let Some(opened) = &mut self.opened {
            work(&mut opened.connection, &mut self.ids)
        } else if let Some(memory) = &self.common.memory {
            let mut memory = memory.lock().unwrap_or_else(PoisonError::into_inner);
            work(&mut memory, &mut self.ids)
        } else {
            return Err("it is not open".to_owned());
        };
        result.map_err(|error| {
            self.ids.forget();
            if file::broken(&error) {
                self.renew();
            }
            file::said(&error)
        })
    }

    fn open(&mut self) -> Result<(), String> {
        let Place::Directory(directory) = &self.common.place else {
            return Ok(());
        };
        // Everyone can read this, so it does not say where the file is.
        let said = |why: &dyn std::fmt::Display| format!("{}: {why}", file::NAME);
        let opened = file::open(directory, self.unix_ms / 1_000).map_err(|error| said(&error))?;
        if let Some((moved, flaw)) = &opened.moved {
            tracing::warn!(moved = %moved.display(), why = %flaw, "the history of power was moved aside, and a new one is begun");
        }
        let found = table::drop_empty_series(&opened.connection)
            .and_then(|()| table::newest_minute(&opened.connection));
        self.ids.forget();
        self.opened = Some(opened);
        if let Ok(newest) = &found {
            self.found = newest.map(|newest| (newest, self.now_s));
        }
        found.map(|_| ()).map_err(|error| {
            if file::broken(&error) {
                self.renew();
            }
            said(&file::said(&error))
        })
    }

    /// Moves a broken file aside. The next transaction begins a new one.
    fn renew(&mut self) {
        let (Some(opened), Place::Directory(directory)) = (self.opened.take(), &self.common.place)
        else {
            return;
        };
        drop(opened.connection);
        let path = directory.join(file::NAME);
        match file::move_aside(&path, file::Flaw::Unreadable, self.unix_ms / 1_000) {
            Ok(moved) => {
                tracing::warn!(moved = %moved.display(), "the history of power is broken: it was moved aside, and a new one is begun");
            }
            Err(error) => tracing::warn!(%error, "the broken history of power can't be moved"),
        }
    }

    fn examine(&mut self) {
        let Place::Directory(directory) = &self.common.place else {
            return;
        };
        // What is on the disk, not what the connection that writes remembers of it.
        let looked = file::open_to_read(directory).and_then(|connection| {
            connection.query_row("PRAGMA quick_check(1)", [], |row| row.get::<_, String>(0))
        });
        let well = match looked {
            Ok(said) => said == "ok",
            Err(error) => !file::broken(&error),
        };
        if !well {
            self.renew();
        }
    }

    fn commit(&mut self) {
        let rows = std::mem::take(&mut self.waiting);
        let written = self.with(|connection, ids| table::write(connection, ids, &rows));
        let pruned = match written {
            Ok(()) => self.prune(),
            Err(why) => {
                self.waiting = rows;
                self.shed();
                Err(why)
            }
        };
        match pruned {
            Ok(()) => self.succeed(),
            Err(why) => self.fail(&why),
        }
    }

    fn prune(&mut self) -> Result<(), String> {
        if self.now_s < self.prune_at_s {
            return Ok(());
        }
        self.prune_at_s = self.now_s + PRUNE_EVERY_S;
        let since_s = self.offset.map_or(self.now_s, |(_, since_s)| since_s);
        let now = self.unix_ms / 1_000;
        let trusted = self.now_s - since_s >= TRUSTED_AFTER_S && !self.leaps(now);
        let most_bytes = match self.common.memory {
            None => table::MOST_BYTES,
            Some(_) => table::MOST_BYTES_IN_MEMORY,
        };
        self.with(|connection, _| table::prune(connection, now, trusted, most_bytes))
    }

    /// Whether the clock says that long before this process nothing was written: it may just as well
    /// be wrong.
    fn leaps(&self, now: i64) -> bool {
        self.found.is_some_and(|(newest, at_s)| {
            #[expect(clippy::cast_possible_truncation, reason = "an uptime")]
            let opened = now - (self.now_s - at_s) as i64;
            opened - newest > LEAP_S
        })
    }

    /// Loses the oldest of too many rows; seconds first, for minutes say the same.
    fn shed(&mut self) {
        let Rows { seconds, minutes } = &mut self.waiting;
        let surplus = (seconds.len() + minutes.len()).saturating_sub(MOST_WAITING);
        let of_seconds = surplus.min(seconds.len());
        seconds.drain(..of_seconds);
        minutes.drain(..surplus - of_seconds);
        self.common.recording().lost_rows += u64::try_from(surplus).unwrap_or(u64::MAX);
    }

    fn fail(&mut self, why: &str) {
        let again = self
            .logged
            .as_ref()
            .is_none_or(|(known, at_s)| known != why || self.now_s - at_s >= LOG_EVERY_S);
        if again {
            let place = &self.common.place;
            tracing::warn!(
                why,
                ?place,
                "the history of power can't be kept; it is tried again"
            );
            self.logged = Some((why.to_owned(), self.now_s));
        }
        self.common.recording().trouble = Some(why.to_owned());
    }

    fn succeed(&mut self) {
        if self.logged.take().is_some() {
            tracing::info!("the history of power is kept again");
        }
        if self.common.memory.is_none() {
            self.common.recording().trouble = None;
        }
    }
}

#[cfg(test)]
mod tests;
