//! One frame that a node may be showing, and the count of what must follow until it is gone.

use smallvec::SmallVec;

use crate::floor::model::Delivery;
use crate::floor::tables::UNIVERSE_SLOTS;
use crate::units::{Draw, Time};

/// One draw for each element that a universe touches: seldom more than a few panels, their feeds and
/// what is above, which then lie beside each other.
pub(super) type Draws = SmallVec<[Draw; 6]>;

/// The slots of one frame as it was sent, kept so that their draw can be reckoned anew when the floor
/// file says something else about them.
pub type Content = [u8; UNIVERSE_SLOTS];

/// Nothing is lit.
pub const DARK: Content = [0; UNIVERSE_SLOTS];

/// In each slot the brighter of both.
pub(super) fn brighten(slots: &mut Content, other: &Content) {
    for (to, &from) in slots.iter_mut().zip(other) {
        *to = from.max(*to);
    }
}

/// Slots that share one entry of [`Brightest`] lie so far apart: a multiple of the usual numbers of
/// slots of a pixel, so that they have one role.
const APART: usize = 48;

/// No less than the brightest that every slot had in many frames, for a tenth of the bytes: every
/// frame comes here, and it is asked for only when the floor file is replaced while a node is silent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Brightest {
    most: [u8; APART],
    /// Nothing is known of the slots from there on.
    known: usize,
}

impl Brightest {
    pub(super) const DARK: Self = Self {
        most: [0; APART],
        known: UNIVERSE_SLOTS,
    };

    /// One more frame.
    pub(super) fn add(&mut self, content: &Content) {
        let (rows, rest) = content.as_chunks::<APART>();
        for row in rows {
            for (most, &level) in self.most.iter_mut().zip(row) {
                *most = level.max(*most);
            }
        }
        for (most, &level) in self.most.iter_mut().zip(rest) {
            *most = level.max(*most);
        }
    }

    /// For every slot.
    pub(super) fn slots(&self) -> Content {
        std::array::from_fn(|slot| {
            if slot < self.known {
                self.most[slot % APART]
            } else {
                255
            }
        })
    }

    /// Nothing is known of the slots from there on.
    pub(super) fn unknown_from(&mut self, slot: usize) {
        self.known = slot.min(self.known);
    }
}

/// What was sent in one frame, for each element of the tree that its universe touches.
#[derive(Debug, Clone)]
pub(super) struct Frame {
    /// What it draws.
    pub(super) sent: Draws,
    /// What the picture that it was made of asked for.
    pub(super) asked: Draws,
    /// Its slots.
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

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn the_brightest_is_never_less_than_any_slot_was(
            frames in prop::collection::vec(prop::collection::vec(any::<u8>(), UNIVERSE_SLOTS), 1..6),
            shorter in prop::option::of(0..UNIVERSE_SLOTS),
        ) {
            let mut brightest = Brightest::DARK;
            for frame in &frames {
                brightest.add(frame.as_slice().try_into().unwrap());
            }
            brightest.unknown_from(shorter.unwrap_or(UNIVERSE_SLOTS));
            let slots = brightest.slots();
            for slot in 0..UNIVERSE_SLOTS {
                prop_assert!(frames.iter().all(|frame| frame[slot] <= slots[slot]));
                prop_assert!(shorter.is_none_or(|known| slot < known || slots[slot] == 255));
            }
        }
    }

    #[test]
    fn one_colour_stays_one_colour() {
        let mut brightest = Brightest::DARK;
        for step in 0..10 {
            brightest.add(&std::array::from_fn(|slot| {
                if slot % 3 == 1 { 20 * step } else { 0 }
            }));
        }
        let slots = brightest.slots();
        assert!((0..UNIVERSE_SLOTS).all(|slot| slots[slot] == if slot % 3 == 1 { 180 } else { 0 }));
    }
}
