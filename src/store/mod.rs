//! What is kept in `SQLite`: the history of power, and the book of repairs ([`book`]).
//!
//! The history is sampled from the states that the data plane publishes:
//!
//! - [`recorder`]: the task that takes every state, keeps the totals since the start, and hands what
//!   happened to the writer without ever waiting for it;
//! - [`fold`]: seconds and minutes made of that, by the wall clock;
//! - `writer`: the one thread that writes, and what it does when it can't;
//! - `file` and `table`: the file, its tables, and how it stays small;
//! - [`reader`]: what is asked of it, by connections of their own that can only read.
//!
//! Its rows are keyed by the second of the wall clock at which they begin, and hold how much time they
//! cover. When the clock is set back, a second is lived twice: its row then covers both, so that
//! nothing is lost and nothing counts twice.

pub mod book;
pub mod clock;
mod file;
pub mod fold;
pub mod reader;
pub mod recorder;
mod table;
mod writer;

pub use reader::Reader;
pub use recorder::Recorder;
pub use writer::Place;
