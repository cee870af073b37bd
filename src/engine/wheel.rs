//! When each universe that leaves is to be looked at next, so that a floor of thousands costs no more
//! than what is due.

use crate::power::cap::OutIndex;
use crate::units::Time;

/// Length of a notch.
const NOTCH_US: u64 = 5_000;

/// Notches of one turn: 1.28 s, longer than anything waits.
const NOTCHES: usize = 256;

/// Nobody, where a universe or its neighbour might be.
const NOBODY: OutIndex = OutIndex::MAX;

/// Where a universe stands that was taken and not put in again.
const NOWHERE: u64 = u64::MAX;

/// Universes by the time at which they are to be looked at, to five milliseconds.
#[derive(Debug)]
pub(super) struct Wheel {
    /// The first universe of each notch; the others follow it.
    firsts: Vec<OutIndex>,
    stands: Vec<Stand>,
    /// All notches before this one have been taken.
    next: u64,
}

/// Where one universe stands.
#[derive(Debug, Clone, Copy)]
struct Stand {
    /// Counted from the start of time.
    notch: u64,
    before: OutIndex,
    after: OutIndex,
}

impl Wheel {
    /// All of them are to be looked at at once.
    pub(super) fn new(universes: usize, now: Time) -> Self {
        let stand = Stand {
            notch: NOWHERE,
            before: NOBODY,
            after: NOBODY,
        };
        let mut wheel = Self {
            firsts: vec![NOBODY; NOTCHES],
            stands: vec![stand; universes],
            next: 0,
        };
        wheel.begin(now);
        wheel
    }

    fn begin(&mut self, now: Time) {
        self.firsts.fill(NOBODY);
        self.next = notch(now);
        for out in (0..).take(self.stands.len()) {
            self.put(out, self.next);
        }
    }

    /// Begins anew when nothing was taken for a whole turn: all are to be looked at at once.
    pub(super) fn catch_up(&mut self, now: Time) {
        if notch(now) >= self.next + NOTCHES as u64 {
            self.begin(now);
        }
    }

    /// Looks at a universe at that time, whatever the plan was.
    pub(super) fn plan(&mut self, out: OutIndex, at: Time) {
        let notch = self.within(at);
        let stands = self.stands[out as usize].notch;
        if notch == stands {
            return;
        }
        if stands != NOWHERE {
            self.take_out(out);
        }
        self.put(out, notch);
    }

    /// The same, or before if that was the plan.
    pub(super) fn no_later(&mut self, out: OutIndex, at: Time) {
        if self.within(at) < self.stands[out as usize].notch {
            self.plan(out, at);
        }
    }

    fn put(&mut self, out: OutIndex, notch: u64) {
        let after = std::mem::replace(&mut self.firsts[place(notch)], out);
        if let Some(after) = self.stands.get_mut(after as usize) {
            after.before = out;
        }
        self.stands[out as usize] = Stand {
            notch,
            before: NOBODY,
            after,
        };
    }

    fn take_out(&mut self, out: OutIndex) {
        let Stand {
            notch,
            before,
            after,
        } = self.stands[out as usize];
        match self.stands.get_mut(before as usize) {
            Some(before) => before.after = after,
            None => self.firsts[place(notch)] = after,
        }
        if let Some(after) = self.stands.get_mut(after as usize) {
            after.before = before;
        }
        self.stands[out as usize].notch = NOWHERE;
    }

    /// Reads what is needed to plan anew.
    pub(super) fn near(&self, out: OutIndex) -> bool {
        self.stands[out as usize].notch == NOWHERE
    }

    /// When the next universe is due, or the end of a turn if none is.
    pub(super) fn next_due(&self) -> Time {
        let mut turn = self.next..self.next + NOTCHES as u64;
        let end = turn.end;
        let stand = turn.find(|&notch| self.firsts[place(notch)] != NOBODY);
        Time(stand.unwrap_or(end) * NOTCH_US)
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
        let mut out = std::mem::replace(&mut self.firsts[place(self.next)], NOBODY);
        self.next += 1;
        due.clear();
        while let Some(stand) = self.stands.get_mut(out as usize) {
            due.push(out);
            stand.notch = NOWHERE;
            out = stand.after;
        }
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
        due.sort_unstable();
        assert_eq!(due, [0, 1, 2]);
        assert!(!wheel.take(now, &mut due), "nothing is left of before");
    }

    proptest! {
        /// Against the standard library's ordered map, with every time rounded up to a notch.
        #[test]
        fn everything_is_due_once_and_not_before_its_time(
            steps in prop::collection::vec((0..8_u32, 0..1_200_u64, 0..300_u64, any::<bool>()), 1..200),
        ) {
            let mut wheel = Wheel::new(8, Time::from_ms(0));
            let mut plan: BTreeMap<u32, u64> = (0..8).map(|out| (out, 0)).collect();
            let (mut now_ms, mut due) = (0, Vec::new());
            // The first notch that nobody has taken yet.
            let mut free_ms = 0;
            for (out, wait_ms, pass_ms, anyway) in steps {
                let at_ms = (now_ms + wait_ms).next_multiple_of(5).max(free_ms);
                let planned = plan.get_mut(&out).unwrap();
                if anyway {
                    wheel.plan(out, Time::from_ms(now_ms + wait_ms));
                    *planned = at_ms;
                } else {
                    wheel.no_later(out, Time::from_ms(now_ms + wait_ms));
                    *planned = at_ms.min(*planned);
                }
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
                prop_assert_eq!(wheel.next_due(), Time::from_ms(first_ms));
                prop_assert!(plan.values().all(|&at| at > now_ms / 5 * 5), "{plan:?} at {now_ms}");
            }
        }
    }
}
