//! Frames that a source's sequence numbers say are missing.
//!
//! A number that is skipped is not yet a loss: a sender may count all its universes with one
//! counter, so that each sees every tenth number. So the usual step is learnt first, and only a
//! whole multiple of it is a gap.

use crate::units::Time;

/// So many equal steps, less the unequal ones, make a step the usual one; no more are counted, so
/// that a sender that changes its ways is soon learnt anew (our choice).
const SURE: u8 = 8;
const MOST_SURE: u8 = 16;

/// A larger hole is a sender that has jumped or started anew. (E1.31 takes 20 as the bound between
/// an overtaken packet and a jump; Art-Net gives no figure.)
const LARGEST_GAP: u8 = 20;

/// How one source numbers its frames of one universe.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Numbering {
    newest: u8,
    usual: u8,
    trust: u8,
}

impl Numbering {
    /// Takes the number of a frame that was not overtaken; gives how many were missing before it.
    pub(super) fn take(&mut self, number: u8) -> u8 {
        if number == 0 {
            *self = Self::default();
            return 0;
        }
        let before = std::mem::replace(&mut self.newest, number);
        if before == 0 {
            return 0;
        }
        let step = steps(before, number);
        if step == self.usual {
            self.trust = (self.trust + 1).min(MOST_SURE);
            return 0;
        }
        let missing = if self.is_sure() {
            self.times_usual(step).map_or(0, |times| times - 1)
        } else {
            0
        };
        self.trust = self.trust.saturating_sub(1);
        if self.trust == 0 {
            (self.usual, self.trust) = (step, 1);
        }
        missing
    }

    /// Whether the numbers can tell of losses: they move on by a usual step.
    pub(super) fn is_sure(self) -> bool {
        self.usual > 0 && self.trust >= SURE
    }

    /// How many usual steps make `step`, from 2 to the largest gap.
    fn times_usual(self, step: u8) -> Option<u8> {
        let usual = u16::from(self.usual);
        (2..=LARGEST_GAP + 1).find(|&times| u16::from(times) * usual % 255 == u16::from(step))
    }
}

/// Steps from one number to the next on the ring 1 to 255 (Art-Net 4: 255 is followed by 1).
fn steps(from: u8, to: u8) -> u8 {
    u8::try_from((u16::from(to) + 255 - u16::from(from)) % 255).unwrap_or(0)
}

/// Events of the last minute, in buckets of ten seconds: the running one and five before.
#[derive(Debug, Clone, Copy, Default)]
pub struct LastMinute {
    bucket: u64,
    counts: [u16; BUCKETS],
}

const BUCKETS: usize = 6;
const BUCKET_US: u64 = 10_000_000;

impl LastMinute {
    /// So many more.
    pub fn add(&mut self, count: u16, now: Time) {
        self.roll(now);
        let running = &mut self.counts[0];
        *running = running.saturating_add(count);
    }

    /// One that was counted turned out to be none.
    pub fn take_back(&mut self, now: Time) {
        self.roll(now);
        if let Some(count) = self.counts.iter_mut().find(|count| **count > 0) {
            *count -= 1;
        }
    }

    /// All of the last 50 to 60 s.
    pub fn total(&self, now: Time) -> u32 {
        let mut copy = *self;
        copy.roll(now);
        copy.counts.iter().map(|&count| u32::from(count)).sum()
    }

    fn roll(&mut self, now: Time) {
        let bucket = now.0 / BUCKET_US;
        let passed = usize::try_from(bucket.saturating_sub(self.bucket)).unwrap_or(BUCKETS);
        if passed > 0 {
            let passed = passed.min(BUCKETS);
            self.counts.copy_within(..BUCKETS - passed, passed);
            self.counts[..passed].fill(0);
            self.bucket = bucket;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    use proptest::prelude::*;

    fn missing(numbers: impl Iterator<Item = u32>) -> u32 {
        let mut numbering = Numbering::default();
        let of_ring = |number: u32| u8::try_from(number % 255 + 1).unwrap();
        numbers
            .map(|number| u32::from(numbering.take(of_ring(number))))
            .sum()
    }

    proptest! {
        /// Against the count of what the test itself leaves out, for every usual step up to 45
        /// (one counter over 45 universes).
        #[test]
        fn counts_what_was_left_out(
            step in 1..=45_u32,
            runs in prop::collection::vec((20..60_usize, 1..=6_u32), 1..12),
        ) {
            // 0 to 254 is a ring: where so few steps go round it, other gaps look the same.
            prop_assume!((2..=21).all(|times| times * step % 255 != step));
            let mut numbers = Vec::new();
            let (mut number, mut left_out) = (3, 0);
            for (sent, lost) in &runs {
                for _ in 0..*sent {
                    numbers.push(number);
                    number += step;
                }
                number += lost * step;
                left_out += lost;
            }
            numbers.push(number);
            prop_assert_eq!(missing(numbers.into_iter()), left_out);
        }
    }

    #[test]
    fn what_is_not_numbered_or_jumps_has_no_gaps() {
        let mut numbering = Numbering::default();
        assert!((0..50).all(|_| numbering.take(0) == 0));
        assert!(!numbering.is_sure());
        assert!((0..50).all(|_| numbering.take(7) == 0), "frozen");
        assert!(!numbering.is_sure());
        // Started anew: 100 to 1.
        assert_eq!(missing((0..100).chain(0..100)), 0);
    }

    #[test]
    fn a_shared_counter_is_learnt_within_a_second() {
        // From steps of 1 to steps of 3 at 44 frames a second.
        let mut numbering = Numbering::default();
        for number in 1..=30 {
            assert_eq!(numbering.take(number), 0);
        }
        let wrong: u32 = (0..44).map(|n| u32::from(numbering.take(33 + 3 * n))).sum();
        assert!(wrong <= 2 * 9, "{wrong}");
        assert!(numbering.is_sure());
        assert_eq!(numbering.take(33 + 3 * 44), 0);
    }

    #[test]
    fn a_minute_is_forgotten() {
        let mut count = LastMinute::default();
        count.add(3, Time::from_s(5));
        count.add(4, Time::from_s(50));
        assert_eq!(count.total(Time::from_s(59)), 7);
        assert_eq!(count.total(Time::from_s(65)), 4);
        count.take_back(Time::from_s(65));
        assert_eq!(count.total(Time::from_s(65)), 3);
        assert_eq!(count.total(Time::from_s(120)), 0);
        count.take_back(Time::from_s(120));
        assert_eq!(count.total(Time::from_s(120)), 0);
    }
}
