//! What somebody who keeps the book can do. When it is done, the keeper says.

use std::fmt::Debug;

use super::{
    BenchEntry, ByHand, FaultRow, NotDone, PanelPage, PanelRow, PlacedRow, SignedRow, Step,
};

/// The book, kept somewhere. Every method may wait for the disk, and a change is on it when its method
/// returns. All fail when the book can't be read or written; a change also when it may not be.
pub trait Keeps: Debug + Send + Sync {
    /// Grows with every change that this process makes.
    fn version(&self) -> u64;

    /// All faults, in the order in which they were found.
    ///
    /// # Errors
    /// When it can't be read.
    fn faults(&self) -> Result<Vec<FaultRow>, NotDone>;

    /// Writes what somebody saw.
    ///
    /// # Errors
    /// When something is missing, or it can't be written.
    fn by_hand(&self, seen: &ByHand) -> Result<FaultRow, NotDone>;

    /// A step by a person.
    ///
    /// # Errors
    /// When there is no such fault, it can't go there from where it is, something is missing, or it can't
    /// be written.
    fn step(&self, id: i64, step: &Step) -> Result<FaultRow, NotDone>;

    /// All panels that it knows, by serial.
    ///
    /// # Errors
    /// When it can't be read.
    fn panels(&self) -> Result<Vec<PanelRow>, NotDone>;

    /// All of one panel; nothing if it doesn't know it.
    ///
    /// # Errors
    /// When it can't be read.
    fn panel(&self, serial: &str) -> Result<Option<PanelPage>, NotDone>;

    /// Writes a note on a panel.
    ///
    /// # Errors
    /// When something is missing, or it can't be written.
    fn note(&self, serial: &str, text: &str, who: &str) -> Result<(), NotDone>;

    /// Writes a test on the bench.
    ///
    /// # Errors
    /// When something is missing or can't be, or it can't be written.
    fn bench(&self, serial: &str, test: &BenchEntry) -> Result<(), NotDone>;

    /// Writes that a panel lies at a position, and nowhere else.
    ///
    /// # Errors
    /// When something is missing, or it can't be written.
    fn place(&self, serial: &str, position: &str, who: &str) -> Result<PlacedRow, NotDone>;

    /// Writes that nothing lies at a position. False if nothing did.
    ///
    /// # Errors
    /// When it can't be written.
    fn unplace(&self, position: &str) -> Result<bool, NotDone>;

    /// Which panel lies where.
    ///
    /// # Errors
    /// When it can't be read.
    fn placed(&self) -> Result<Vec<PlacedRow>, NotDone>;

    /// What a panel drew on the bench each time that a sensor was there, the oldest first.
    ///
    /// # Errors
    /// When it can't be read.
    fn signatures(&self, serial: &str) -> Result<Vec<SignedRow>, NotDone>;

    /// All of it, as JSON.
    ///
    /// # Errors
    /// When it can't be read.
    fn json(&self) -> Result<String, NotDone>;

    /// Faults and their steps, as CSV.
    ///
    /// # Errors
    /// When it can't be read.
    fn csv(&self) -> Result<String, NotDone>;
}
