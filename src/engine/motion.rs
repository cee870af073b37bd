//! What a universe's slots have done lately: which moved, which carried light, how long its
//! frames were. Two windows each, the running one and the one before: nothing grows.

use super::slot_set::{Rows, SlotSet};
use crate::floor::tables::UNIVERSE_SLOTS;
use crate::units::Time;

/// A slot that changed counts as moving for one to two of these.
const MOVED_WINDOW_US: u64 = 1_000_000;

/// Light is remembered for one to two of these, so that also a dark picture's slots are known.
const LIT_WINDOW_US: u64 = 10_000_000;

/// A value gathered over the running window, and the one of the window before.
#[derive(Debug, Clone, Copy, Default)]
struct Windowed<T> {
    since: Time,
    running: T,
    before: T,
}

impl<T: Copy + Default> Windowed<T> {
    /// Begins a new window if it is time; says whether it was.
    fn roll(&mut self, window_us: u64, now: Time) -> bool {
        let elapsed = now.us_since(self.since);
        if elapsed < window_us {
            return false;
        }
        self.before = if elapsed < 2 * window_us {
            self.running
        } else {
            T::default()
        };
        self.running = T::default();
        self.since = now;
        true
    }

    /// Both windows as they are at `now`.
    fn both(&self, window_us: u64, now: Time) -> [T; 2] {
        let mut copy = *self;
        copy.roll(window_us, now);
        [copy.running, copy.before]
    }
}

/// What a universe's slots have done lately.
#[derive(Debug, Clone, Default)]
pub struct Motion {
    moved: Windowed<Rows>,
    lit: Windowed<Rows>,
    /// Whether the running window of `lit` holds all that is lit now.
    lit_known: bool,
    /// Shortest and longest frame, in slots.
    lengths: Windowed<Option<(u16, u16)>>,
}

impl Motion {
    /// Takes one more frame of `length` slots, which turned the levels `before` into `after`.
    pub fn take(
        &mut self,
        before: &[u8; UNIVERSE_SLOTS],
        after: &[u8; UNIVERSE_SLOTS],
        length: u16,
        now: Time,
    ) {
        if before == after {
            self.take_still(after, length, now);
            return;
        }
        self.roll(length, now);
        self.moved.running.add_differing(before, after);
        self.lit.running.add_lit(after);
        self.lit_known = true;
    }

    /// Reads what is needed to take another frame.
    pub(super) fn near(&self) -> u8 {
        self.moved.running.near() ^ self.lit.running.near()
    }

    /// Takes one more frame, whose `slots` are other levels than those they take the place of.
    pub fn take_over(&mut self, levels: &mut [u8; UNIVERSE_SLOTS], slots: &[u8], now: Time) {
        #[expect(clippy::cast_possible_truncation, reason = "512 at most")]
        self.roll(slots.len() as u16, now);
        let levels_there = &mut levels[..slots.len()];
        self.moved.running.add_differing(levels_there, slots);
        levels_there.copy_from_slice(slots);
        self.lit.running.add_lit(levels);
        self.lit_known = true;
    }

    /// Takes one more frame of `length` slots after which the levels are what they were before.
    pub fn take_still(&mut self, levels: &[u8; UNIVERSE_SLOTS], length: u16, now: Time) {
        self.roll(length, now);
        if !self.lit_known {
            self.lit.running.add_lit(levels);
            self.lit_known = true;
        }
    }

    fn roll(&mut self, length: u16, now: Time) {
        self.moved.roll(MOVED_WINDOW_US, now);
        self.lengths.roll(MOVED_WINDOW_US, now);
        self.lit_known &= !self.lit.roll(LIT_WINDOW_US, now);
        let (least, most) = self.lengths.running.unwrap_or((length, length));
        self.lengths.running = Some((least.min(length), most.max(length)));
    }

    /// Slots that changed within the last second or two.
    pub fn moving(&self, now: Time) -> SlotSet {
        let [running, before] = self.moved.both(MOVED_WINDOW_US, now);
        SlotSet::from(running).or(before.into())
    }

    /// Slots that carried light within the last ten or twenty seconds.
    pub fn lit_lately(&self, now: Time) -> SlotSet {
        let [running, before] = self.lit.both(LIT_WINDOW_US, now);
        SlotSet::from(running).or(before.into())
    }

    /// Slots of the shortest and the longest frame of the last second or two, if any came.
    pub fn lengths(&self, now: Time) -> Option<(u16, u16)> {
        match self.lengths.both(MOVED_WINDOW_US, now) {
            [Some(a), Some(b)] => Some((a.0.min(b.0), a.1.max(b.1))),
            [one, other] => one.or(other),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame(lit: &[(usize, u8)]) -> [u8; UNIVERSE_SLOTS] {
        let mut levels = [0; UNIVERSE_SLOTS];
        for &(slot, level) in lit {
            levels[slot] = level;
        }
        levels
    }

    #[test]
    fn a_slot_moves_for_a_second_or_two_after_it_changed() {
        let mut motion = Motion::default();
        let mut last = frame(&[]);
        // Slot 4 changes at every frame until 3 s, slot 7 stands still.
        for ms in (0..10_000).step_by(25) {
            let level = u8::try_from(ms.min(3_000) / 25 % 250 + 1).unwrap();
            let next = frame(&[(4, level), (7, 200)]);
            motion.take(&last, &next, 512, Time::from_ms(ms));
            last = next;
            let moving = motion.moving(Time::from_ms(ms));
            if (2_100..3_900).contains(&ms) {
                assert_eq!(moving, SlotSet::of(|slot| slot == 4), "{ms} ms");
            } else if ms > 5_100 {
                assert!(moving.is_empty(), "{ms} ms");
            }
        }
        // Silence is stillness too.
        assert!(motion.moving(Time::from_s(60)).is_empty());
    }

    #[test]
    fn light_is_remembered_and_forgotten() {
        let mut motion = Motion::default();
        motion.take(&frame(&[]), &frame(&[(3, 1)]), 512, Time::from_s(1));
        motion.take(&frame(&[(3, 1)]), &frame(&[]), 512, Time::from_s(2));
        let three = SlotSet::of(|slot| slot == 3);
        assert_eq!(motion.lit_lately(Time::from_s(10)), three);
        assert!(motion.lit_lately(Time::from_s(40)).is_empty());
        // What stays lit without a change is still lit in every later window.
        let mut still = Motion::default();
        for s in 0..60 {
            let before = if s == 0 { frame(&[]) } else { frame(&[(3, 1)]) };
            still.take(&before, &frame(&[(3, 1)]), 512, Time::from_s(s));
            assert_eq!(still.lit_lately(Time::from_s(s)), three, "{s} s");
        }
    }

    #[test]
    fn lengths_are_the_least_and_the_most_of_the_last_seconds() {
        let mut motion = Motion::default();
        let dark = frame(&[]);
        assert_eq!(motion.lengths(Time::from_s(1)), None);
        for (at, length) in [(0, 24), (1, 512), (2, 300)] {
            motion.take(&dark, &dark, length, Time::from_ms(at * 500));
        }
        assert_eq!(motion.lengths(Time::from_ms(1_100)), Some((24, 512)));
        motion.take(&dark, &dark, 300, Time::from_ms(2_100));
        assert_eq!(motion.lengths(Time::from_ms(2_100)), Some((300, 300)));
    }
}
