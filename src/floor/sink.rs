//! Where the reader's faults are collected, and values with their places.

use std::cell::RefCell;

use super::defaults::MOST_FAULTS;
use super::fault::{Fault, Span};

/// Where faults are collected.
#[derive(Debug, Default)]
pub(super) struct Sink(RefCell<Vec<Fault>>);

impl Sink {
    /// One more. Nobody reads beyond [`MOST_FAULTS`].
    pub(super) fn add(&self, fault: Fault) {
        let mut faults = self.0.borrow_mut();
        if faults.len() < MOST_FAULTS {
            faults.push(fault);
        }
    }

    /// All that were collected.
    pub(super) fn into_faults(self) -> Vec<Fault> {
        self.0.into_inner()
    }

    /// Whether one more would be dropped, so that it need not be worded.
    pub(super) fn is_full(&self) -> bool {
        self.0.borrow().len() >= MOST_FAULTS
    }

    /// Whether nothing was wrong so far.
    pub(super) fn is_empty(&self) -> bool {
        self.0.borrow().is_empty()
    }
}

/// A value and where it is written.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct At<T> {
    pub(super) value: T,
    pub(super) span: Span,
}

/// `text` between quotes, fit to be shown.
pub(super) fn quoted(text: &str) -> String {
    let short: String = text.chars().take(60).collect();
    let dots = if short.len() < text.len() { "…" } else { "" };
    format!("\"{}{dots}\"", short.escape_debug())
}
