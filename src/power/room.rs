//! How much a universe may draw with its next frame, given what all others may be drawing.

use super::tree::{Element, ElementIndex};
use crate::units::Draw;

/// What every element has left.
pub(super) struct Rooms<'a> {
    pub(super) elements: &'a [Element],
    /// Sum of the most that all universes may be drawing.
    pub(super) reserved: &'a [Draw],
}

/// What one universe has of an element.
#[derive(Debug, Clone, Copy)]
pub(super) struct Own {
    /// The most that it may be drawing.
    pub(super) most: Draw,
    /// What its newest frame draws.
    pub(super) sent: Draw,
}

impl Rooms<'_> {
    /// The most that a universe may draw at an element with its next frame.
    ///
    /// What its newest frame draws it may always draw again. No more than that: where more is
    /// reserved than there is room for, because a limit was lowered, what is reserved then only
    /// falls, and is within the limit as soon as the newest frames have surely arrived.
    pub(super) fn of(&self, element: ElementIndex, own: Own) -> Draw {
        let at = element as usize;
        let others = self.reserved[at].less(own.most);
        self.elements[at].room().less(others).max(own.sent)
    }
}
