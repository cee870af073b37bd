//! Who polls, and how often each is answered.
//!
//! A poll is small and its answer may be hundreds of datagrams, so a poll with a forged address would
//! make litfloor flood whom it names. Each address gets a few answers, then one a second; all together
//! get some more, of which half are for addresses that have polled before: a flood of new addresses
//! leaves the console that polls every three seconds its answers.

use std::net::Ipv4Addr;

use crate::units::Time;

/// Addresses that are remembered: so many that polled once …
const NEW: usize = 32;
/// … and so many that polled again later.
const KNOWN: usize = 32;

/// An address that polls again after so long is known from then on. What is forged in bulk seldom comes
/// back so late; a controller polls every 2.5 to 3 s (Art-Net 4).
const KNOWN_AFTER_MS: u64 = 1_000;

/// Answers that one address gets at once, and the time after which it gets one more.
const ITS_BURST: u64 = 4;
const ITS_PAUSE_US: u64 = 1_000_000;

/// Answers that new, and known addresses get at once together, and the time after which they get one more.
const BURST: u64 = 20;
const PAUSE_US: u64 = 100_000;

/// A right to some answers at once, and to more as time passes: the "generic cell rate algorithm" of
/// ITU-T I.371 (from memory), by the time at which all is unused again.
#[derive(Debug, Clone, Copy, Default)]
struct Right {
    whole_at: Time,
}

impl Right {
    fn has(self, now: Time, burst: u64, pause_us: u64) -> bool {
        self.whole_at.us_since(now) <= (burst - 1) * pause_us
    }

    fn use_one(&mut self, now: Time, pause_us: u64) {
        self.whole_at = self.whole_at.max(now).plus_us(pause_us);
    }
}

#[derive(Debug, Clone, Copy)]
struct Caller {
    address: Ipv4Addr,
    first: Time,
    last: Time,
    right: Right,
}

/// Who has polled lately: tables of fixed size, in which who was silent longest gives way.
#[derive(Debug, Default)]
pub(super) struct Callers {
    new: Vec<Caller>,
    known: Vec<Caller>,
    /// What new addresses may get in all, and what known ones may.
    of_new: Right,
    of_known: Right,
}

impl Callers {
    /// Whether a poll from `address` is to be answered.
    pub(super) fn may_answer(&mut self, address: Ipv4Addr, now: Time) -> bool {
        let (caller, all) = self.find(address, now);
        let may = caller.right.has(now, ITS_BURST, ITS_PAUSE_US) && all.has(now, BURST, PAUSE_US);
        if may {
            caller.right.use_one(now, ITS_PAUSE_US);
            all.use_one(now, PAUSE_US);
        }
        may
    }

    /// What is known of an address, and what it shares with others.
    fn find(&mut self, address: Ipv4Addr, now: Time) -> (&mut Caller, &mut Right) {
        let is = |caller: &Caller| caller.address == address;
        if let Some(at) = self.known.iter().position(is) {
            self.known[at].last = now;
            return (&mut self.known[at], &mut self.of_known);
        }
        if let Some(at) = self.new.iter().position(is) {
            let mut caller = self.new[at];
            caller.last = now;
            if now >= caller.first.plus_ms(KNOWN_AFTER_MS) {
                self.new.swap_remove(at);
                return (put(&mut self.known, KNOWN, caller), &mut self.of_known);
            }
            self.new[at] = caller;
            return (&mut self.new[at], &mut self.of_new);
        }
        let caller = Caller {
            address,
            first: now,
            last: now,
            right: Right::default(),
        };
        (put(&mut self.new, NEW, caller), &mut self.of_new)
    }
}

/// Puts a caller into a table of `most`, in the place of whoever was silent longest if that is full.
fn put(table: &mut Vec<Caller>, most: usize, caller: Caller) -> &mut Caller {
    let at = if table.len() < most {
        table.push(caller);
        table.len() - 1
    } else {
        let oldest = (0..table.len())
            .min_by_key(|&at| table[at].last)
            .unwrap_or(0);
        table[oldest] = caller;
        oldest
    };
    &mut table[at]
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const CONSOLE: Ipv4Addr = Ipv4Addr::new(10, 0, 0, 5);

    #[test]
    fn who_polls_as_the_standard_says_is_always_answered() {
        let mut callers = Callers::default();
        for poll in 0..1_000 {
            assert!(callers.may_answer(CONSOLE, Time::from_ms(poll * 2_500)));
        }
    }

    #[test]
    fn who_polls_without_end_gets_one_answer_a_second() {
        let mut callers = Callers::default();
        let answered = (0..10_000)
            .filter(|&ms| callers.may_answer(CONSOLE, Time::from_ms(ms)))
            .count();
        // 4 at once and then one a second, for ten seconds less a millisecond.
        assert_eq!(answered, 4 + 9);
    }

    #[test]
    fn a_flood_of_forged_addresses_leaves_the_console_its_answers() {
        let mut callers = Callers::default();
        let mut answered = 0;
        for ms in 0..60_000_u64 {
            let now = Time::from_ms(ms);
            if ms % 2_800 == 0 && ms >= 2_800 {
                assert!(callers.may_answer(CONSOLE, now), "at {ms} ms");
            } else if ms == 0 {
                callers.may_answer(CONSOLE, now);
            } else if ms < 2_800 {
                // The flood begins when the console is known.
                continue;
            } else {
                let forged = Ipv4Addr::from(0x0B00_0000 + u32::try_from(ms).unwrap());
                answered += u64::from(callers.may_answer(forged, now));
            }
            assert!(callers.new.len() <= NEW && callers.known.len() <= KNOWN);
        }
        // No more than the burst and what time brings.
        assert!(answered <= BURST + 60_000_000 / PAUSE_US, "{answered}");
    }

    proptest! {
        /// Whoever asks however often: no more answers to all than both rights give, and tables of their
        /// size.
        #[test]
        fn answers_and_tables_stay_within_bounds(
            polls in prop::collection::vec((0_u64..200, 0_u32..200), 1..2_000),
        ) {
            let mut callers = Callers::default();
            let (mut ms, mut answered) = (0, 0);
            for (pause, address) in polls {
                ms += pause;
                answered += u64::from(callers.may_answer(address.into(), Time::from_ms(ms)));
                prop_assert!(callers.new.len() <= NEW && callers.known.len() <= KNOWN);
            }
            prop_assert!(answered <= 2 * (BURST + ms * 1_000 / PAUSE_US));
        }
    }
}
