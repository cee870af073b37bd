//! One frame that a node may be showing, and the count of what must follow until it is gone.

use crate::floor::model::Delivery;
use crate::floor::tables::UNIVERSE_SLOTS;
use crate::units::{Draw, Time};

/// The slots of one frame, kept so that their draw can be reckoned anew when the floor file says
/// something else about them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Content {
    /// As it was sent.
    pub sent: [u8; UNIVERSE_SLOTS],
    /// As it was asked for, at the places where it would have been sent.
    pub asked: [u8; UNIVERSE_SLOTS],
}

impl Content {
    /// All dark.
    pub const DARK: Self = Self {
        sent: [0; UNIVERSE_SLOTS],
        asked: [0; UNIVERSE_SLOTS],
    };

    /// In each slot the brighter of both.
    pub(super) fn brighten(&mut self, other: &Self) {
        brighten(&mut self.sent, &other.sent);
        brighten(&mut self.asked, &other.asked);
    }
}

/// In each slot the brighter of both.
pub(super) fn brighten(slots: &mut [u8; UNIVERSE_SLOTS], other: &[u8; UNIVERSE_SLOTS]) {
    for (to, &from) in slots.iter_mut().zip(other) {
        *to = from.max(*to);
    }
}

/// What was sent in one frame, for each element of the tree that its universe touches.
#[derive(Debug, Clone)]
pub(super) struct Frame {
    /// What it draws.
    pub(super) sent: Vec<Draw>,
    /// What the picture that it was made of asked for.
    pub(super) asked: Vec<Draw>,
    /// The slots of both.
    pub(super) content: Box<Content>,
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
