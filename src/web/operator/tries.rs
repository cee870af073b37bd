//! Slows down who guesses: every failed try of an address makes it wait longer for the next.

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

/// The failed tries of late.
#[derive(Debug, Default)]
pub(super) struct Tries(Vec<Entry>);

impl Tries {
    /// A try begins: when it may be checked. It counts as failed unless
    /// [`succeeded`](Self::succeeded) takes that back, so that giving up the connection saves
    /// nothing. Nothing when another of the same place waits, or too many wait.
    pub(super) fn begin(&mut self, place: Place, now: Instant) -> Option<Instant> {
        self.0
            .retain(|entry| entry.waiting || now < entry.next + FORGOTTEN);
        let known = self.0.iter().position(|entry| entry.place == place);
        let at = match known {
            Some(at) => at,
            None => self.add(place, now)?,
        };
        let entry = &mut self.0[at];
        if entry.waiting {
            return None;
        }
        entry.waiting = true;
        entry.failed = entry.failed.saturating_add(1);
        Some(entry.next.max(now))
    }

    /// Makes room: of those that do not wait, the one that failed least gives way.
    fn add(&mut self, place: Place, now: Instant) -> Option<usize> {
        if self.0.len() >= MOST {
            let idle = self.0.iter().enumerate().filter(|(_, e)| !e.waiting);
            let (least, _) = idle.min_by_key(|(_, entry)| (entry.failed, entry.next))?;
            self.0.swap_remove(least);
        }
        self.0.push(Entry {
            place,
            failed: 0,
            next: now,
            waiting: false,
        });
        Some(self.0.len() - 1)
    }

    /// The try of a place has ended, however.
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

    fn place(text: &str) -> Place {
        Place::of(text.parse().unwrap())
    }

    #[tokio::test(start_paused = true)]
    async fn waits_grow_to_a_limit_for_one_place_only() {
        let (start, mut tries) = (timers::now(), Tries::default());
        let (one, other) = (place("10.0.0.1"), place("10.0.0.2"));
        let (mut now, mut waits) = (start, Vec::new());
        for _ in 0..8 {
            let at = tries.begin(one, now).unwrap();
            waits.push((at - now).as_millis());
            now = at;
            tries.ended(one, now);
        }
        // No source: our own choice.
        assert_eq!(waits, [0, 250, 500, 1_000, 2_000, 4_000, 8_000, 8_000]);
        assert_eq!(tries.begin(other, now), Some(now));
        tries.succeeded(one);
        assert_eq!(tries.begin(one, now), Some(now));
    }

    #[tokio::test(start_paused = true)]
    async fn one_place_tries_once_at_a_time_and_is_forgotten() {
        let (now, mut tries) = (timers::now(), Tries::default());
        let one = place("10.0.0.1");
        tries.begin(one, now).unwrap();
        assert_eq!(tries.begin(one, now), None);
        tries.ended(one, now);
        assert_eq!(tries.begin(one, now), Some(now + FIRST));
        tries.ended(one, now);
        let later = now + 2 * FIRST + FORGOTTEN;
        tries.begin(one, later).unwrap();
        tries.ended(one, later);
        assert_eq!(tries.begin(one, later), Some(later + FIRST), "anew");
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
        assert_eq!(tries.begin(guesser, now), Some(now + 2 * FIRST));
        tries.ended(guesser, now);
        // When all wait, nobody gives way.
        let waiting = crowd.filter(|one| tries.begin(*one, now).is_some());
        assert_eq!(waiting.count(), MOST);
        assert_eq!(tries.0.len(), MOST);
    }
}
