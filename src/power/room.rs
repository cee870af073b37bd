//! How much a universe may draw with its next frame, given what all others may be drawing.

use super::scale::Demand;
use super::tree::{Element, ElementIndex};
use crate::units::Draw;

/// The ceiling of an element whose draw may rise as fast as it likes.
pub(super) const NO_CEILING: Draw = Draw(u64::MAX);

/// What every element has left.
pub(super) struct Rooms<'a> {
    pub(super) elements: &'a [Element],
    /// Sum of the most that all universes may be drawing.
    pub(super) reserved: &'a [Draw],
    /// Sum of what the newest frames draw.
    pub(super) sent: &'a [Draw],
    /// What that may rise to now.
    pub(super) ceiling: &'a [Draw],
    /// What it would be with nothing dimmed there.
    pub(super) demand: &'a [Demand],
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
        let room = self.elements[at].room().less(others);
        let rise = self.ceiling[at].less(self.sent[at].less(own.sent));
        room.min(rise).max(own.sent)
    }

    /// The same, but where the draw may not rise as fast as the pictures ask, each universe that
    /// rises gets a part of the rise, lest the first ones take all of it.
    pub(super) fn fair(&self, element: ElementIndex, own: Own, wanted: Draw) -> Draw {
        let most = self.of(element, own);
        let at = element as usize;
        if self.ceiling[at] == NO_CEILING {
            return most;
        }
        let asked = self.demand[at].newest;
        let (mine, all) = (wanted.less(own.sent), asked.less(self.sent[at]));
        let rise = self.ceiling[at].less(self.sent[at]);
        if all <= mine || all <= rise {
            return most;
        }
        let part = u128::from(rise.0) * u128::from(mine.0) / u128::from(all.0);
        let part = Draw(u64::try_from(part).unwrap_or(u64::MAX));
        most.min(own.sent + part)
    }
}
