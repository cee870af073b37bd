//! The book of repairs: panels by serial with their tests on the bench, where each lay and lies, faults
//! and what was done about them, notes, who and when. Kept in `SQLite`.
//!
//! - [`crate::book`]: what it answers, what is written, and what that must be like;
//! - `faults`, `panels`: the statements behind that;
//! - `layout`: the tables, and how they change from one litfloor to the next;
//! - `open`: the file, and why one is refused; [`NotDone`]: why a change is;
//! - [`contents`]: all of it, for export; [`salvage`] and `pages`: what can be read of a damaged one;
//!   [`recover`](mod@recover): that, written anew.
//!
//! A change is on the disk when its method returns. Every method may wait for the disk: don't call one
//! where frames are handled.

pub mod contents;
pub mod entry;
mod faults;
mod keeps;
mod layout;
mod open;
mod pages;
mod panels;
pub mod recover;
mod refusal;
pub mod salvage;

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::SystemTime;

pub use crate::book::rows;
use rusqlite::{Connection, MAIN_DB, Transaction, TransactionBehavior};

pub use contents::Contents;
pub use entry::{BenchEntry, ByHand, DAEMON, Found, Step};
pub use keeps::now;
pub use open::{BookPlace, Flaw, NAME, NotOpened};
pub use refusal::NotDone;
pub use rows::{
    BenchRow, FaultRow, FaultState, LastBench, NoteRow, PanelPage, PanelRow, PlacedRow,
    PositionRow, Signature, SignedRow, StepRow,
};

/// The book, open. Clones are the same book.
#[derive(Debug, Clone)]
pub struct Book {
    inner: Arc<Inner>,
}

#[derive(Debug)]
struct Inner {
    connection: Mutex<Connection>,
    version: AtomicU64,
}

impl Book {
    /// Opens a book, and makes one where there is none. One whose file or directory can only be read is
    /// opened to be looked at.
    ///
    /// # Errors
    /// When the file is damaged, no book, of a newer litfloor, or can't be had. Then nothing was changed.
    pub fn open(place: &BookPlace) -> Result<Self, NotOpened> {
        let connection = open::open(place)?;
        Ok(Self {
            inner: Arc::new(Inner {
                connection: Mutex::new(connection),
                version: AtomicU64::new(1),
            }),
        })
    }

    /// Whether it can be written; one that can't was opened to be looked at.
    pub fn is_writable(&self) -> bool {
        !self.connection().is_readonly(MAIN_DB).unwrap_or(false)
    }

    /// Grows with every change that this process makes.
    pub fn version(&self) -> u64 {
        self.inner.version.load(Ordering::Acquire)
    }

    /// All faults, in the order in which they were found.
    ///
    /// # Errors
    /// When the book can't be read.
    pub fn faults(&self) -> Result<Vec<FaultRow>, NotDone> {
        Ok(faults::all(&self.connection(), None)?)
    }

    /// One fault.
    ///
    /// # Errors
    /// When there is none of that number, or the book can't be read.
    pub fn fault(&self, id: i64) -> Result<FaultRow, NotDone> {
        faults::one(&self.connection(), id)
    }

    /// Writes what the daemon found, once: nothing is written and none comes back while the same fault
    /// is open. One that was closed is found anew.
    ///
    /// # Errors
    /// When it can't be written.
    pub fn found(&self, found: &Found, at: SystemTime) -> Result<Option<FaultRow>, NotDone> {
        // Asked again and again while a fault is known; that shall not touch the disk.
        if faults::is_known(&self.connection(), found)? {
            return Ok(None);
        }
        self.change(|book| faults::found(book, found, at))
    }

    /// Writes what somebody saw.
    ///
    /// # Errors
    /// When something is missing, or it can't be written.
    pub fn by_hand(&self, seen: &ByHand, at: SystemTime) -> Result<FaultRow, NotDone> {
        self.change(|book| faults::by_hand(book, seen, at))
    }

    /// A step by a person. Nobody proves a repair by saying so.
    ///
    /// # Errors
    /// When there is no such fault, it can't go there from where it is, something is missing, or it can't be
    /// written.
    pub fn step(&self, id: i64, step: &Step, at: SystemTime) -> Result<FaultRow, NotDone> {
        self.change(|book| faults::step(book, id, step, at))
    }

    /// A survey found the place of a fault good that somebody works at or has repaired.
    ///
    /// # Errors
    /// When there is no such fault, nobody worked at it, or it can't be written.
    pub fn prove(&self, id: i64, evidence: &str, at: SystemTime) -> Result<FaultRow, NotDone> {
        self.change(|book| faults::by_daemon(book, id, FaultState::Proved, evidence, at))
    }

    /// A survey found a fault still there that somebody works at or has repaired.
    ///
    /// # Errors
    /// When there is no such fault, it is found already, another of its key is open, or it can't be written.
    pub fn still(&self, id: i64, evidence: &str, at: SystemTime) -> Result<FaultRow, NotDone> {
        self.change(|book| faults::by_daemon(book, id, FaultState::Found, evidence, at))
    }

    /// All panels that the book knows, by serial.
    ///
    /// # Errors
    /// When the book can't be read.
    pub fn panels(&self) -> Result<Vec<PanelRow>, NotDone> {
        Ok(panels::all(&self.connection())?)
    }

    /// All that the book holds of one panel; nothing if it doesn't know it.
    ///
    /// # Errors
    /// When the book can't be read.
    pub fn panel(&self, serial: &str) -> Result<Option<PanelPage>, NotDone> {
        Ok(panels::page(&self.connection(), serial.trim())?)
    }

    /// Writes a note on a panel.
    ///
    /// # Errors
    /// When something is missing, or it can't be written.
    pub fn note(&self, serial: &str, text: &str, who: &str, at: SystemTime) -> Result<(), NotDone> {
        self.change(|book| panels::note(book, serial, text, who, at))
    }

    /// Writes a test on the bench.
    ///
    /// # Errors
    /// When something is missing or can't be, or it can't be written.
    pub fn bench(&self, serial: &str, test: &BenchEntry, at: SystemTime) -> Result<(), NotDone> {
        self.change(|book| panels::bench(book, serial, test, at))
    }

    /// Writes that a panel lies at a position: it lies nowhere else from now on, and what lay there does
    /// not any more. A panel that lies there already stays.
    ///
    /// # Errors
    /// When something is missing, or it can't be written.
    pub fn place(
        &self,
        serial: &str,
        position: &str,
        who: &str,
        at: SystemTime,
    ) -> Result<PlacedRow, NotDone> {
        self.change(|book| panels::place(book, serial, position, who, at))
    }

    /// Writes where a floor file says that panels lie, of those that never lay anywhere: what people have
    /// placed stands, whatever the file says. Gives how many were written.
    ///
    /// # Errors
    /// When it can't be written.
    pub fn enter(&self, lying: &[PlacedRow], at: SystemTime) -> Result<usize, NotDone> {
        self.change(|book| panels::enter(book, lying, at))
    }

    /// Writes that nothing lies at a position any more. False if nothing did.
    ///
    /// # Errors
    /// When it can't be written.
    pub fn unplace(&self, position: &str, at: SystemTime) -> Result<bool, NotDone> {
        self.change(|book| panels::unplace(book, position, at))
    }

    /// Which panel lies where, by position.
    ///
    /// # Errors
    /// When the book can't be read.
    pub fn placed(&self) -> Result<Vec<PlacedRow>, NotDone> {
        Ok(panels::placed(&self.connection())?)
    }

    /// What a panel drew on the bench each time that a sensor was there, the oldest first.
    ///
    /// # Errors
    /// When the book can't be read.
    pub fn signatures(&self, serial: &str) -> Result<Vec<SignedRow>, NotDone> {
        Ok(panels::signatures(&self.connection(), serial.trim())?)
    }

    /// All of it: as JSON by `serde`, as CSV by its methods.
    ///
    /// # Errors
    /// When the book can't be read.
    pub fn export(&self) -> Result<Contents, NotDone> {
        Ok(Contents::read(&self.connection())?)
    }

    fn connection(&self) -> MutexGuard<'_, Connection> {
        let connection = self.inner.connection.lock();
        connection.unwrap_or_else(PoisonError::into_inner)
    }

    /// Does it all or nothing. What comes back with `Ok` is on the disk.
    fn change<T>(
        &self,
        write: impl FnOnce(&Transaction<'_>) -> Result<T, NotDone>,
    ) -> Result<T, NotDone> {
        let mut connection = self.connection();
        let before = connection.total_changes();
        // What fails in it is rolled back when it is dropped.
        let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let written = write(&transaction)?;
        transaction.commit()?;
        if connection.total_changes() != before {
            self.inner.version.fetch_add(1, Ordering::AcqRel);
        }
        Ok(written)
    }
}

#[cfg(test)]
mod tests;
