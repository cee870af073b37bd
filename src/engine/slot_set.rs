//! A set of slots of one universe, as bits.

use std::ops::Range;

use crate::floor::tables::UNIVERSE_SLOTS;
use crate::power::near::lines;

const WORDS: usize = UNIVERSE_SLOTS / 64;

/// Slots of one universe, counted from 0.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct SlotSet([u64; WORDS]);

impl SlotSet {
    /// The slots for which `holds` is true.
    pub fn of(holds: impl Fn(usize) -> bool) -> Self {
        let mut set = Self::default();
        for (word, bits) in set.0.iter_mut().enumerate() {
            for bit in 0..64 {
                *bits |= u64::from(holds(64 * word + bit)) << bit;
            }
        }
        set
    }

    /// The slots that carry light.
    pub fn lit(levels: &[u8; UNIVERSE_SLOTS]) -> Self {
        Self::differing(levels, &[0; UNIVERSE_SLOTS])
    }

    /// The slots at which two frames differ.
    pub fn differing(one: &[u8; UNIVERSE_SLOTS], other: &[u8; UNIVERSE_SLOTS]) -> Self {
        let mut rows = Rows::default();
        rows.add_differing(one, other);
        rows.into()
    }

    /// Adds slots; those behind the last are left out.
    pub fn add(&mut self, slots: Range<usize>) {
        for slot in slots.start..slots.end.min(UNIVERSE_SLOTS) {
            self.0[slot / 64] |= 1 << (slot % 64);
        }
    }

    /// Number of slots.
    pub fn len(&self) -> u32 {
        self.0.iter().map(|bits| bits.count_ones()).sum()
    }

    /// Whether it has none.
    pub fn is_empty(&self) -> bool {
        self.0.iter().all(|&bits| bits == 0)
    }

    /// Slots in both.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        self.by_word(other, |a, b| a & b)
    }

    /// Slots in either.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        self.by_word(other, |a, b| a | b)
    }

    /// Slots that are not in `other`.
    #[must_use]
    pub fn without(self, other: Self) -> Self {
        self.by_word(other, |a, b| a & !b)
    }

    fn by_word(mut self, other: Self, of: impl Fn(u64, u64) -> u64) -> Self {
        for (a, b) in self.0.iter_mut().zip(other.0) {
            *a = of(*a, b);
        }
        self
    }

    /// Every slot `by` later, or earlier if negative; what leaves the universe is gone.
    #[must_use]
    pub fn shifted(self, by: i16) -> Self {
        let (words, bits) = (usize::from(by.unsigned_abs() / 64), by.unsigned_abs() % 64);
        let word = |at: Option<usize>| at.and_then(|at| self.0.get(at)).copied().unwrap_or(0);
        let mut moved = [0; WORDS];
        for (at, out) in moved.iter_mut().enumerate() {
            let (near, far) = if by >= 0 {
                (at.checked_sub(words), at.checked_sub(words + 1))
            } else {
                (Some(at + words), Some(at + words + 1))
            };
            *out = match (by >= 0, bits) {
                (_, 0) => word(near),
                (true, bits) => word(near) << bits | word(far) >> (64 - bits),
                (false, bits) => word(near) >> bits | word(far) << (64 - bits),
            };
        }
        Self(moved)
    }

    /// Number of slots that `other` shares with these moved by `by`. Words without a slot cost
    /// nothing: a thousand shifts are asked for in a row.
    pub fn shared_with(&self, other: Self, by: i16) -> u32 {
        let (words, bits) = (i32::from(by) >> 6, by.rem_euclid(64));
        let mut shared = 0;
        for (at, word) in (0..).zip(self.0).filter(|(_, word)| *word != 0) {
            let lands = |at: i32| usize::try_from(at).ok().and_then(|at| other.0.get(at));
            if let Some(other) = lands(at + words) {
                shared += (word << bits & other).count_ones();
            }
            if let (Some(other), 1..) = (lands(at + words + 1), bits) {
                shared += (word >> (64 - bits) & other).count_ones();
            }
        }
        shared
    }

    /// One bit a slot, slot 1 in the lowest bit of the first byte.
    pub fn bytes(&self) -> [u8; UNIVERSE_SLOTS / 8] {
        let mut bytes = [0; UNIVERSE_SLOTS / 8];
        for (eight, word) in bytes.chunks_exact_mut(8).zip(&self.0) {
            eight.copy_from_slice(&word.to_le_bytes());
        }
        bytes
    }
}

/// A set of slots that is quick to add to, for every frame comes here: slot 64 × row + column is bit
/// `row` of byte `column`, so that a whole row is taken side by side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rows([u8; 64]);

impl Default for Rows {
    fn default() -> Self {
        Self([0; 64])
    }
}

impl Rows {
    /// Reads all of it.
    pub(super) fn near(&self) -> u8 {
        lines(&self.0)
    }

    /// Adds the slots at which two frames differ, as far as both have any.
    pub fn add_differing(&mut self, one: &[u8], other: &[u8]) {
        let both = one.len().min(other.len());
        let (one, other) = (&one[..both], &other[..both]);
        let (ones, rest_of_one) = one.as_chunks::<64>();
        let (others, rest_of_other) = other.as_chunks::<64>();
        for (row, (one, other)) in ones.iter().zip(others).enumerate() {
            for (column, (a, b)) in self.0.iter_mut().zip(one.iter().zip(other)) {
                *column |= u8::from(a != b) << row;
            }
        }
        let rest = rest_of_one.iter().zip(rest_of_other);
        for (column, (a, b)) in self.0.iter_mut().zip(rest) {
            *column |= u8::from(a != b) << ones.len();
        }
    }

    /// Adds the slots that carry light.
    pub fn add_lit(&mut self, levels: &[u8; UNIVERSE_SLOTS]) {
        let (rows, _) = levels.as_chunks::<64>();
        for (row, levels) in rows.iter().enumerate() {
            for (column, level) in self.0.iter_mut().zip(levels) {
                *column |= u8::from(*level != 0) << row;
            }
        }
    }
}

impl From<Rows> for SlotSet {
    fn from(rows: Rows) -> Self {
        let (bytes, _) = rows.0.as_chunks::<8>();
        let mut set = Self::default();
        for (row, word) in set.0.iter_mut().enumerate() {
            for (at, bytes) in bytes.iter().enumerate() {
                *word |= gathered(u64::from_le_bytes(*bytes) >> row) << (8 * at);
            }
        }
        set
    }
}

/// Bit i is bit 0 of byte i of `bytes`.
const fn gathered(bytes: u64) -> u64 {
    // Each of the eight lands beside the one before in the top byte, and none on another.
    (bytes & 0x0101_0101_0101_0101).wrapping_mul(0x0102_0408_1020_4080) >> 56
}

#[cfg(test)]
mod tests {
    use super::*;

    use std::collections::BTreeSet;

    use proptest::prelude::*;

    fn made(slots: &BTreeSet<i16>) -> SlotSet {
        SlotSet::of(|slot| slots.contains(&i16::try_from(slot).unwrap()))
    }

    proptest! {
        #[test]
        fn a_row_at_a_time_is_one_by_one(
            a in prop::collection::vec(0..4_u8, 512), b in prop::collection::vec(any::<u8>(), 512),
            alike in prop::collection::vec(any::<bool>(), 512),
        ) {
            let a: [u8; 512] = a.try_into().unwrap();
            let mut b: [u8; 512] = b.try_into().unwrap();
            for (slot, alike) in alike.into_iter().enumerate() {
                b[slot] = if alike { a[slot] } else { b[slot] };
            }
            prop_assert_eq!(SlotSet::lit(&a), SlotSet::of(|slot| a[slot] > 0));
            let mut both = Rows::default();
            both.add_lit(&a);
            both.add_differing(&a, &b);
            let either = SlotSet::of(|slot| a[slot] > 0 || a[slot] != b[slot]);
            prop_assert_eq!(SlotSet::from(both), either);
            prop_assert_eq!(SlotSet::differing(&a, &b), SlotSet::of(|slot| a[slot] != b[slot]));
        }

        /// Against the standard library's sets.
        #[test]
        fn is_a_set(
            a in prop::collection::btree_set(0..512_i16, 0..200),
            b in prop::collection::btree_set(0..512_i16, 0..200),
            by in -600..600_i16,
        ) {
            prop_assert_eq!(made(&a).len() as usize, a.len());
            prop_assert_eq!(made(&a).is_empty(), a.is_empty());
            prop_assert_eq!(made(&a).and(made(&b)), made(&(&a & &b)));
            prop_assert_eq!(made(&a).or(made(&b)), made(&(&a | &b)));
            prop_assert_eq!(made(&a).without(made(&b)), made(&(&a - &b)));
            let moved = a.iter().map(|slot| slot + by).collect();
            prop_assert_eq!(made(&a).shifted(by), made(&moved));
            let moved: BTreeSet<i16> = a.iter().map(|slot| slot + by).collect();
            let shared = moved.intersection(&b).count();
            prop_assert_eq!(made(&a).shared_with(made(&b), by) as usize, shared);
            let bytes = made(&a).bytes();
            for slot in 0..512 {
                let bit = bytes[slot / 8] >> (slot % 8) & 1;
                prop_assert_eq!(bit == 1, a.contains(&i16::try_from(slot).unwrap()));
            }
        }
    }
}
