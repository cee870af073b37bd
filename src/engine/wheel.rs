//! When each universe that leaves is to be looked at next, so that a floor of thousands costs no more
//! than what is due.

use crate::power::cap::OutIndex;
use crate::units::Time;

/// Length of a notch.
const NOTCH_US: u64 = 5_000;

/// Notches of one turn: 1.28 s, longer than anything waits.
const NOTCHES: usize = 256;

/// Where a universe stands that was taken and not put in again.
const NOWHERE: u64 = u64::MAX;

/// Universes by the time at which they are to be looked at, to five milliseconds.
#[derive(Debug)]
pub(super) struct Wheel {
    notches: Vec<Vec<OutIndex>>,
    /// The notch that each is in, counted from the start of time; what stands in another is stale.
    stands: Vec<u64>,
    /// All notches before this one have been taken.
    next: u64,
}

impl Wheel {
    /// All of them are to be looked at at once.
    pub(super) fn new(universes: usize, now: Time) -> Self {
        let mut wheel = Self {
            notches: vec![Vec::new(); NOTCHES],
            stands: vec![NOWHERE; universes],
            next: 0,
        };
        wheel.begin(now);
        wheel
    }

    fn begin(&mut self, now: Time) {
        self.next = notch(now);
        for notch in &mut self.notches {
            notch.clear();
        }
        self.stands.fill(self.next);
        let universes = self.stands.len();
        self.notches[place(self.next)].extend((0..).take(universes));
    }

    /// Begins anew when nothing was taken for a whole turn: all are to be looked at at once.
    pub(super) fn catch_up(&mut self, now: Time) {
        if notch(now) >= self.next + NOTCHES as u64 {
            self.begin(now);
        }
    }

    /// Looks at a universe at that time, or before if that was the plan.
    pub(super) fn no_later(&mut self, out: OutIndex, at: Time) {
        let notch = self.within(at);
        let stands = &mut self.stands[out as usize];
        if notch < *stands {
            *stands = notch;
            self.notches[place(notch)].push(out);
        }
    }

    /// Whether a universe was taken and not put in again.
    pub(super) fn stands_nowhere(&self, out: OutIndex) -> bool {
        self.stands[out as usize] == NOWHERE
    }

    /// When the next universe is due, or a time before it.
    pub(super) fn next_due(&self) -> Time {
        let turn = self.next..self.next + NOTCHES as u64;
        let stand = turn
            .clone()
            .find(|&notch| !self.notches[place(notch)].is_empty());
        Time(stand.unwrap_or(turn.end) * NOTCH_US)
    }

    /// The first notch that begins no earlier than `at`, within one turn from what is taken next.
    fn within(&self, at: Time) -> u64 {
        let last = self.next + NOTCHES as u64 - 1;
        at.0.div_ceil(NOTCH_US).clamp(self.next, last)
    }

    /// Takes the universes of the next notch that has begun into `due`, in place of what is there;
    /// false if none has. Each has to be put in again.
    pub(super) fn take(&mut self, now: Time, due: &mut Vec<OutIndex>) -> bool {
        if self.next > notch(now) {
            return false;
        }
        let at = self.next;
        self.next += 1;
        due.clear();
        std::mem::swap(due, &mut self.notches[place(at)]);
        due.retain(|&out| {
            let stands = &mut self.stands[out as usize];
            // It may have stood here before, and again.
            let is_due = *stands == at;
            if is_due {
                *stands = NOWHERE;
            }
            is_due
        });
        true
    }
}

const fn notch(now: Time) -> u64 {
    now.0 / NOTCH_US
}

#[expect(clippy::cast_possible_truncation, reason = "below 256")]
const fn place(notch: u64) -> usize {
    (notch % NOTCHES as u64) as usize
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use proptest::prelude::*;

    use super::*;

    #[test]
    fn after_a_long_pause_everything_is_due_once() {
        let mut wheel = Wheel::new(3, Time::from_ms(0));
        let (now, mut due) = (Time::from_s(36_000), Vec::new());
        wheel.no_later(1, Time::from_ms(700));
        wheel.catch_up(now);
        assert!(wheel.take(now, &mut due));
        assert_eq!(due, [0, 1, 2]);
        assert!(!wheel.take(now, &mut due), "nothing is left of before");
    }

    proptest! {
        /// Against the standard library's ordered map, with every time rounded up to a notch.
        #[test]
        fn everything_is_due_once_and_not_before_its_time(
            steps in prop::collection::vec((0..8_u32, 0..1_200_u64, 0..300_u64), 1..200),
        ) {
            let mut wheel = Wheel::new(8, Time::from_ms(0));
            let mut plan: BTreeMap<u32, u64> = (0..8).map(|out| (out, 0)).collect();
            let (mut now_ms, mut due) = (0, Vec::new());
            // The first notch that nobody has taken yet.
            let mut free_ms = 0;
            for (out, wait_ms, pass_ms) in steps {
                let at_ms = (now_ms + wait_ms).next_multiple_of(5).max(free_ms);
                wheel.no_later(out, Time::from_ms(now_ms + wait_ms));
                let planned = plan.get_mut(&out).unwrap();
                *planned = at_ms.min(*planned);
                now_ms += pass_ms;
                while wheel.take(Time::from_ms(now_ms), &mut due) {
                    for &out in &due {
                        prop_assert!(plan[&out] <= now_ms, "too early");
                        plan.insert(out, (now_ms + 900).next_multiple_of(5));
                        wheel.no_later(out, Time::from_ms(now_ms + 900));
                    }
                }
                free_ms = (now_ms / 5 + 1) * 5;
                let first_ms = plan.values().min().copied().unwrap_or_default();
                prop_assert!(wheel.next_due() <= Time::from_ms(first_ms), "not too late");
                prop_assert!(wheel.next_due() > Time::from_ms(now_ms / 5 * 5), "nothing is due now");
                prop_assert!(plan.values().all(|&at| at > now_ms / 5 * 5), "{plan:?} at {now_ms}");
            }
        }
    }
}
