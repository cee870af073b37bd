//! Slows down who guesses: every failed try of an address makes it wait longer for the next.
//!
//! It never locks anybody out: however many guess, an address that comes for the first time may try.

use std::time::Duration;

use tokio::time::Instant;

use super::super::place::Place;

/// Wait after the first failed try; it doubles with every further one.
const FIRST: Duration = Duration::from_millis(250);

/// Longest wait.
const LONGEST: Duration = Duration::from_secs(8);

/// So long after its last try an address starts anew.
const FORGOTTEN: Duration = Duration::from_secs(600);

/// Addresses that are remembered, at most.
const MOST: usize = 256;

#[derive(Debug)]
struct Entry {
    place: Place,
    failed: u32,
    /// Not checked before.
    next: Instant,
    waiting: bool,
}

/// A try that may be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Begun {
    /// Not before then.
    pub(super) at: Instant,
    /// The place has not failed of late.
    pub(super) first: bool,
}

/// The failed tries of late.
#[derive(Debug, Default)]
pub(super) struct Tries(Vec<Entry>);

impl Tries {
    /// A try begins: when it may be checked. It counts as failed unless
    /// [`succeeded`](Self::succeeded) takes that back, so that giving up the connection saves
    /// nothing. Nothing when another of the same place waits.
    pub(super) fn begin(&mut self, place: Place, now: Instant) -> Option<Begun> {
        self.0
            .retain(|entry| entry.waiting || now < entry.next + FORGOTTEN);
        let known = self.0.iter().position(|entry| entry.place == place);
        let at = match known {
            Some(at) => at,
            None => self.add(place, now),
        };
        let entry = &mut self.0[at];
        if entry.waiting {
            return None;
        }
        let begun = Begun {
            at: entry.next.max(now),
            first: entry.failed == 0,
        };
        entry.waiting = true;
        entry.failed = entry.failed.saturating_add(1);
        Some(begun)
    }

    /// Makes room: of those that do not wait, the one that failed least gives way. If all wait, the one
    /// that failed most does: its try goes on, but is no longer known here, so it gains a try without a
    /// wait. That is less bad than to let nobody else in, for hashes are made one at a time anyway.
    fn add(&mut self, place: Place, now: Instant) -> usize {
        if self.0.len() >= MOST {
            let entries = || self.0.iter().enumerate();
            let idle = entries().filter(|(_, entry)| !entry.waiting);
            let gives_way = idle
                .min_by_key(|(_, entry)| (entry.failed, entry.next))
                .or_else(|| entries().max_by_key(|(_, entry)| (entry.failed, entry.next)));
            if let Some((at, _)) = gives_way {
                self.0.swap_remove(at);
            }
        }
        self.0.push(Entry {
            place,
            failed: 0,
            next: now,
            waiting: false,
        });
        self.0.len() - 1
    }

    /// The try of a place has ended, however. It may be forgotten by then.
    pub(super) fn ended(&mut self, place: Place, now: Instant) {
        if let Some(entry) = self.0.iter_mut().find(|entry| entry.place == place) {
            entry.waiting = false;
            let doublings = entry.failed.saturating_sub(1).min(16);
            entry.next = now + (FIRST * (1 << doublings)).min(LONGEST);
        }
    }

    /// The place knows the passphrase.
    pub(super) fn succeeded(&mut self, place: Place) {
        self.0.retain(|entry| entry.place != place);
    }
}

#[cfg(test)]
mod tests {
    use std::net::IpAddr;

    use super::super::super::timers;
    use super::*;

    const fn begun(at: Instant, first: bool) -> Begun {
        Begun { at, first }
    }

    fn place(text: &str) -> Place {
        Place::of(text.parse().unwrap())
    }

    #[tokio::test(start_paused = true)]
    async fn waits_grow_to_a_limit_for_one_place_only() {
        let (start, mut tries) = (timers::now(), Tries::default());
        let (one, other) = (place("10.0.0.1"), place("10.0.0.2"));
        let (mut now, mut waits) = (start, Vec::new());
        for _ in 0..8 {
            let at = tries.begin(one, now).unwrap().at;
            waits.push((at - now).as_millis());
            now = at;
            tries.ended(one, now);
        }
        // No source: our own choice.
        assert_eq!(waits, [0, 250, 500, 1_000, 2_000, 4_000, 8_000, 8_000]);
        assert_eq!(tries.begin(other, now), Some(begun(now, true)));
        tries.succeeded(one);
        assert_eq!(tries.begin(one, now), Some(begun(now, true)));
    }

    #[tokio::test(start_paused = true)]
    async fn one_place_tries_once_at_a_time_and_is_forgotten() {
        let (now, mut tries) = (timers::now(), Tries::default());
        let one = place("10.0.0.1");
        tries.begin(one, now).unwrap();
        assert_eq!(tries.begin(one, now), None);
        tries.ended(one, now);
        assert_eq!(tries.begin(one, now), Some(begun(now + FIRST, false)));
        tries.ended(one, now);
        let later = now + 2 * FIRST + FORGOTTEN;
        tries.begin(one, later).unwrap();
        tries.ended(one, later);
        let anew = Some(begun(later + FIRST, false));
        assert_eq!(tries.begin(one, later), anew, "anew");
    }

    #[tokio::test(start_paused = true)]
    async fn a_crowd_does_not_push_out_who_failed_more() {
        let (now, mut tries) = (timers::now(), Tries::default());
        let guesser = place("10.9.9.9");
        for _ in 0..2 {
            tries.begin(guesser, now).unwrap();
            tries.ended(guesser, now);
        }
        let crowd = (0..1_000_u32).map(|n| Place::of(IpAddr::V4((0x0A00_0000 + n).into())));
        for one in crowd.clone() {
            tries.begin(one, now).unwrap();
            tries.ended(one, now);
        }
        assert_eq!(tries.0.len(), MOST);
        assert_eq!(
            tries.begin(guesser, now),
            Some(begun(now + 2 * FIRST, false))
        );
    }

    #[tokio::test(start_paused = true)]
    async fn however_many_guess_a_newcomer_may_try() {
        let (now, mut tries) = (timers::now(), Tries::default());
        let worst = place("10.9.9.9");
        tries.begin(worst, now).unwrap();
        tries.ended(worst, now);
        let all_wait = (1..MOST)
            .map(|n| Place::of(IpAddr::V4((0x0A00_0000 + u32::try_from(n).unwrap()).into())));
        for one in all_wait.chain([worst]) {
            tries.begin(one, now).unwrap();
        }
        assert!(tries.0.len() == MOST && tries.0.iter().all(|entry| entry.waiting));
        let friend = place("192.168.1.8");
        assert_eq!(tries.begin(friend, now), Some(begun(now, true)));
        assert_eq!(tries.0.len(), MOST);
        let forgotten = tries.0.iter().all(|entry| entry.place != worst);
        assert!(forgotten, "the one that failed most gives way");
        // What the forgotten one was about ends without harm to the others.
        tries.ended(worst, now);
        assert!(tries.0.iter().all(|entry| entry.waiting));
    }
}
