//! One frame that a node may be showing, and the count of what must follow until it is gone.

use crate::floor::model::Delivery;
use crate::units::{Draw, Time};

/// What was sent in one frame, for each element of the tree that its universe touches.
#[derive(Debug, Clone)]
pub(super) struct Frame {
    /// What it draws.
    pub(super) sent: Vec<Draw>,
    /// What the picture that it was made of asked for.
    pub(super) asked: Vec<Draw>,
    /// When it left, for the last time so far.
    pub(super) last_sent: Time,
    /// Whether it is ours; the first entry stands for what a node showed before we came.
    pub(super) known: bool,
    /// Datagrams with newer content that followed.
    pub(super) newer: Count,
    /// Syncs that followed those.
    pub(super) syncs: Count,
}

/// Datagrams counted towards a frame's end.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Count {
    so_far: u8,
    /// When the last that was needed has surely arrived.
    done: Option<Time>,
}

impl Count {
    pub(super) fn one_more(&mut self, now: Time, rules: Delivery) {
        if self.done.is_some() {
            return;
        }
        self.so_far += 1;
        if self.so_far >= rules.copies {
            self.done = Some(now.plus_ms(rules.late_ms.into()));
        }
    }

    pub(super) fn is_done(self, now: Time) -> bool {
        self.done.is_some_and(|done| done <= now)
    }
}
