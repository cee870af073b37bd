//! What may be asked of the history, and what comes of it.

use std::fmt;

use super::record::{Element, Sum};

/// A range of the history.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ask {
    /// Its first second, since 1970.
    pub from: i64,
    /// The second behind its last.
    pub to: i64,
    /// The most buckets that it may be cut into; at least one.
    pub points: u32,
    /// One element, or all.
    pub element: Option<Element>,
}

impl Ask {
    /// How long a bucket must be, as a multiple of `row_s`, so that there are not too many.
    pub fn bucket_s(&self, row_s: i64) -> i64 {
        let points = i64::from(self.points.max(1));
        let rows = (self.to - self.from).max(1).div_euclid(row_s) + 2;
        (rows + points - 1).div_euclid(points).max(1) * row_s
    }
}

/// A range of the history, cut into buckets.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// The second at which the first bucket begins, since 1970.
    pub from: i64,
    /// How long a bucket is, in seconds.
    pub bucket_s: i64,
    /// How long the rows are that it is made of: a second or a minute.
    pub row_s: i64,
    /// How many buckets there are.
    pub count: usize,
    /// One for each element that has something in the range.
    pub lines: Vec<Line>,
}

/// One element's part.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Whose.
    pub element: Element,
    /// One for each bucket; nothing where nothing was recorded.
    pub buckets: Vec<Option<Sum>>,
}

impl Line {
    /// The whole range.
    pub fn total(&self) -> Sum {
        let mut total = Sum::default();
        for sum in self.buckets.iter().flatten() {
            total.merge(sum);
        }
        total
    }
}

/// One row: an element in one second or minute.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The second at which it begins, since 1970.
    pub at: i64,
    /// Whose.
    pub element: Element,
    /// What it did.
    pub sum: Sum,
}

/// Why a question has no answer.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the history can't be read: {0}")]
pub struct Unread(pub String);

/// Answers questions about the history. All of it may block: it is not for a thread that serves.
pub trait Archive: fmt::Debug + Send + Sync {
    /// This second of the wall clock, since 1970.
    fn now(&self) -> i64;

    /// How the recording goes.
    fn recording(&self) -> Recording;

    /// A range, cut into buckets.
    ///
    /// # Errors
    /// When the history can't be read.
    fn series(&self, ask: &Ask) -> Result<Series, Unread>;

    /// The rows of a range one after the other, by element and then by time, until `each` says
    /// that it is enough. Seconds are given where the whole range has them, else minutes. The
    /// recording goes on meanwhile: what grows too old before its turn is not among them.
    ///
    /// # Errors
    /// When the history can't be read.
    fn rows(&self, ask: &Ask, each: &mut dyn FnMut(Row) -> bool) -> Result<(), Unread>;
}

/// How the recording goes.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Recording {
    /// Whether it is kept in a file; if not, it ends with the process.
    pub in_file: bool,
    /// Why it can't be kept now as it should; nothing if it is.
    pub trouble: Option<String>,
    /// Rows that could not be kept.
    pub lost_rows: u64,
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        /// Whatever is asked for, the buckets that it touches are not more than allowed.
        #[test]
        fn there_are_never_more_buckets_than_asked_for(
            from in 0..4_000_000_000_i64,
            long in 0..40_000_000_i64,
            points in 1..2_000_u32,
            row_s in prop::sample::select(vec![1_i64, 60]),
        ) {
            let ask = Ask { from, to: from + long, points, element: None };
            let bucket_s = ask.bucket_s(row_s);
            let first = from.div_euclid(row_s) * row_s;
            let count = (ask.to - first + bucket_s - 1).div_euclid(bucket_s);
            prop_assert!(count <= i64::from(points), "{count}");
            prop_assert_eq!(bucket_s % row_s, 0);
        }
    }
}
