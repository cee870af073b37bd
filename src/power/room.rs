//! How much a universe may draw with its next frame, given what all others may be drawing.

use super::scale::Demand;
use super::tree::{Element, ElementIndex};
use crate::units::Draw;

/// The ceiling of an element whose draw may rise as fast as it likes.
pub(super) const NO_CEILING: Draw = Draw(u64::MAX);

/// The sums of one element over all universes. They lie together, for a frame needs all of them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sums {
    /// Of what all universes ask, without those of silent nodes.
    pub(super) demand: Demand,
    /// Of the most that all universes may be drawing.
    pub(super) reserved: Draw,
    /// The part of `reserved` that belongs to silent nodes.
    pub(super) unreachable: Draw,
    /// Of what the newest frame of every universe draws.
    pub(super) sent: Draw,
    /// What `sent` may rise to now.
    pub(super) ceiling: Draw,
    /// How many universes have too many frames in the reckoning for a peak.
    pub(super) crowded: u32,
    /// Whether the newest pictures ask for more than may be carried for long.
    pub(super) over: bool,
}

impl Sums {
    pub(super) const NONE: Self = Self {
        demand: Demand::NONE,
        reserved: Draw::ZERO,
        unreachable: Draw::ZERO,
        sent: Draw::ZERO,
        ceiling: Draw::ZERO,
        crowded: 0,
        over: false,
    };
}

/// What every element has left.
pub(super) struct Rooms<'a> {
    pub(super) elements: &'a [Element],
    pub(super) sums: &'a [Sums],
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
        let sums = &self.sums[at];
        let room = self.elements[at].room().less(sums.reserved.less(own.most));
        let rise = sums.ceiling.less(sums.sent.less(own.sent));
        room.min(rise).max(own.sent)
    }

    /// The same, but where the draw may not rise as fast as the pictures ask, each universe that
    /// rises gets a part of the rise, lest the first ones take all of it.
    pub(super) fn fair(&self, element: ElementIndex, own: Own, wanted: Draw) -> Draw {
        let most = self.of(element, own);
        let sums = &self.sums[element as usize];
        if sums.ceiling == NO_CEILING {
            return most;
        }
        let (mine, all) = (wanted.less(own.sent), sums.demand.newest.less(sums.sent));
        let rise = sums.ceiling.less(sums.sent);
        if all <= mine || all <= rise {
            return most;
        }
        let part = u128::from(rise.0) * u128::from(mine.0) / u128::from(all.0);
        let part = Draw(u64::try_from(part).unwrap_or(u64::MAX));
        most.min(own.sent + part)
    }
}
