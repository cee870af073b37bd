//! The book of repairs, as far as no file is needed: panels by serial with their tests on the bench, where
//! each lay and lies, faults and what was done about them, notes, who and when.
//!
//! - [`rows`]: what the book answers; [`entry`]: what is written, and what that must be like;
//! - [`NotDone`]: why something was not written; [`Keeps`]: what its keeper can do;
//! - [`checklist`]: what is left to look at after a rebuild;
//! - [`placing`]: the floor file with the serials as they are placed.

pub mod checklist;
pub mod entry;
mod keeps;
pub mod placing;
pub mod refusal;
pub mod rows;

pub use entry::{BenchEntry, ByHand, DAEMON, Found, Step};
pub use keeps::Keeps;
pub use refusal::NotDone;
pub use rows::{
    BenchRow, FaultRow, FaultState, LastBench, NoteRow, PanelPage, PanelRow, PlacedRow,
    PositionRow, Signature, SignedRow, StepRow,
};
