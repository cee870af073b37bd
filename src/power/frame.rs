//! One frame that a node may be showing, and the count of what must follow until it is gone.

use smallvec::SmallVec;

use crate::floor::model::Delivery;
use crate::floor::tables::UNIVERSE_SLOTS;
use crate::units::{Draw, Time};

/// One draw for each element that a universe touches: seldom more than a few panels, their feeds and
/// what is above, which then lie beside each other.
pub(super) type Draws = SmallVec<[Draw; 6]>;

/// The slots of one frame as it was sent.
pub type Content = [u8; UNIVERSE_SLOTS];

/// Nothing is lit.
pub const DARK: Content = [0; UNIVERSE_SLOTS];

/// Slots that share one entry of [`Brightest`] lie so far apart: a multiple of the usual numbers of
/// slots of a pixel, so that they have one role.
const APART: usize = 48;

#[expect(clippy::cast_possible_truncation, reason = "512")]
const SLOTS: u16 = UNIVERSE_SLOTS as u16;

/// No less than the brightest that every slot had in some frames, for a tenth of the bytes: every
/// frame comes here, and it is asked for only when a floor file takes over that wires the slots in
/// another way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Brightest {
    pub(super) most: [u8; APART],
    /// Nothing is known of the slots from there on.
    known: u16,
}

impl Brightest {
    pub(super) const DARK: Self = Self {
        most: [0; APART],
        known: SLOTS,
    };

    /// Nobody knows.
    pub(super) const ANY: Self = Self {
        most: [0; APART],
        known: 0,
    };

    /// Of one frame.
    pub(super) fn of(content: &Content) -> Self {
        let mut brightest = Self::DARK;
        let (rows, rest) = content.as_chunks::<APART>();
        for row in rows {
            for (most, &level) in brightest.most.iter_mut().zip(row) {
                *most = level.max(*most);
            }
        }
        for (most, &level) in brightest.most.iter_mut().zip(rest) {
            *most = level.max(*most);
        }
        brightest
    }

    /// As bright as both.
    pub(super) fn raise(&mut self, other: &Self) {
        for (most, &level) in self.most.iter_mut().zip(&other.most) {
            *most = level.max(*most);
        }
        self.known = other.known.min(self.known);
    }

    /// For every slot.
    pub(super) fn slots(&self) -> Content {
        std::array::from_fn(|slot| {
            if slot < usize::from(self.known) {
                self.most[slot % APART]
            } else {
                255
            }
        })
    }

    /// Nothing is known of the slots from there on.
    pub(super) fn unknown_from(&mut self, slot: u16) {
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
    /// No less than its slots.
    pub(super) brightest: Brightest,
    /// When it left, for the last time so far.
    pub(super) last_sent: Time,
    /// Whether it is ours; the first entry stands for what a node showed before we came.
    pub(super) known: bool,
    /// Datagrams with newer content that followed.
    pub(super) newer: Count,
    /// Syncs that followed those.
    pub(super) syncs: Count,
}

impl Frame {
    /// A dark one of ours that draws nothing at so many elements.
    pub(super) fn dark(elements: usize) -> Self {
        Self {
            sent: Draws::from_elem(Draw::ZERO, elements),
            asked: Draws::from_elem(Draw::ZERO, elements),
            brightest: Brightest::DARK,
            last_sent: Time::default(),
            known: true,
            newer: Count::default(),
            syncs: Count::default(),
        }
    }

    /// Reads what is needed to take another frame.
    pub(super) fn near(&self) -> u8 {
        let draws = [&self.sent, &self.asked].map(|draws| draws.first().map_or(0, |draw| draw.0));
        let times = self.last_sent.0 ^ draws[0] ^ draws[1];
        low(times) ^ self.brightest.most[0] ^ self.newer.so_far ^ self.syncs.so_far
    }
}

/// Any byte of a number will do.
#[expect(
    clippy::cast_possible_truncation,
    reason = "only read for the sake of reading"
)]
pub(super) const fn low(number: u64) -> u8 {
    number as u8
}

/// Datagrams counted towards a frame's end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Count {
    so_far: u8,
    /// When the last that was needed has surely arrived.
    done: Time,
}

/// No time at all.
const NEVER: Time = Time(u64::MAX);

impl Default for Count {
    fn default() -> Self {
        Self {
            so_far: 0,
            done: NEVER,
        }
    }
}

impl Count {
    pub(super) fn one_more(&mut self, now: Time, rules: Delivery) {
        if self.done != NEVER {
            return;
        }
        self.so_far += 1;
        if self.so_far >= rules.copies {
            self.done = now.plus_ms(rules.late_ms.into());
        }
    }

    pub(super) fn is_done(self, now: Time) -> bool {
        self.done <= now
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
            shorter in prop::option::of(0..SLOTS),
        ) {
            let mut brightest = Brightest::DARK;
            for frame in &frames {
                brightest.raise(&Brightest::of(frame.as_slice().try_into().unwrap()));
            }
            brightest.unknown_from(shorter.unwrap_or(SLOTS));
            let slots = brightest.slots();
            for slot in 0..UNIVERSE_SLOTS {
                prop_assert!(frames.iter().all(|frame| frame[slot] <= slots[slot]));
                prop_assert!(shorter.is_none_or(|known| slot < known.into() || slots[slot] == 255));
            }
        }
    }

    #[test]
    fn nobody_knows_what_a_node_showed_before() {
        assert_eq!(Brightest::ANY.slots(), [255; UNIVERSE_SLOTS]);
        let mut both = Brightest::of(&DARK);
        both.raise(&Brightest::ANY);
        assert_eq!(both.slots(), [255; UNIVERSE_SLOTS]);
    }

    #[test]
    fn one_colour_stays_one_colour() {
        let mut brightest = Brightest::DARK;
        for step in 0..10 {
            brightest.raise(&Brightest::of(&std::array::from_fn(|slot| {
                if slot % 3 == 1 { 20 * step } else { 0 }
            })));
        }
        let slots = brightest.slots();
        assert!((0..UNIVERSE_SLOTS).all(|slot| slots[slot] == if slot % 3 == 1 { 180 } else { 0 }));
    }
}
