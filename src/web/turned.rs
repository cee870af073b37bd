//! Who was turned away at the door, counted, and told in the log now and then.

use std::io;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use serde::Serialize;
use tokio::time::Instant;

use super::crowd::Crowd;
use super::place::Place;
use super::timers;

/// The log has no more than one line of this in so long.
const TELL_EVERY: Duration = Duration::from_secs(60);

/// How often each thing happened since the start.
#[derive(Debug, Default)]
pub struct Turned {
    connections_refused: AtomicU64,
    connections_gave_way: AtomicU64,
    too_slow: AtomicU64,
    not_understood: AtomicU64,
    no_encryption: AtomicU64,
    streams_refused: AtomicU64,
    streams_gave_way: AtomicU64,
    wrong_passphrases: AtomicU64,
    told: Mutex<Option<Instant>>,
}

/// What was counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// Connections that were not let in, for there was no room.
    pub connections_refused: u64,
    /// Connections that were closed so that another might come in.
    pub connections_gave_way: u64,
    /// Connections that took too long to ask or to agree on encryption.
    pub too_slow: u64,
    /// Heads that are no HTTP, too long, or of too many lines.
    pub not_understood: u64,
    /// Connections that agreed on no encryption; a browser that does not know the certificate is one.
    pub no_encryption: u64,
    /// Live streams that were not let in.
    pub streams_refused: u64,
    /// Live streams that were closed so that another might come in.
    pub streams_gave_way: u64,
    /// Tries to sign in with a wrong passphrase, and those that were not even looked at.
    pub wrong_passphrases: u64,
}

fn add(count: &AtomicU64) {
    count.fetch_add(1, Ordering::Relaxed);
}

impl Turned {
    /// All counts.
    pub fn counts(&self) -> Counts {
        let of = |count: &AtomicU64| count.load(Ordering::Relaxed);
        Counts {
            connections_refused: of(&self.connections_refused),
            connections_gave_way: of(&self.connections_gave_way),
            too_slow: of(&self.too_slow),
            not_understood: of(&self.not_understood),
            no_encryption: of(&self.no_encryption),
            streams_refused: of(&self.streams_refused),
            streams_gave_way: of(&self.streams_gave_way),
            wrong_passphrases: of(&self.wrong_passphrases),
        }
    }

    pub(super) fn connection_refused(&self, crowd: &Crowd) {
        add(&self.connections_refused);
        self.tell_of_crowd(crowd);
    }

    pub(super) fn connection_gave_way(&self, crowd: &Crowd) {
        add(&self.connections_gave_way);
        self.tell_of_crowd(crowd);
    }

    pub(super) fn too_slow(&self) {
        add(&self.too_slow);
    }

    pub(super) fn not_understood(&self) {
        add(&self.not_understood);
    }

    pub(super) fn no_encryption(&self, error: &io::Error) {
        add(&self.no_encryption);
        tracing::debug!(%error, "no encryption was agreed on");
    }

    pub(super) fn stream_refused(&self, crowd: &Crowd) {
        add(&self.streams_refused);
        self.tell_of_crowd(crowd);
    }

    pub(super) fn stream_gave_way(&self, crowd: &Crowd) {
        add(&self.streams_gave_way);
        self.tell_of_crowd(crowd);
    }

    pub(super) fn wrong_passphrase(&self, from: Place) {
        add(&self.wrong_passphrases);
        if self.may_tell() {
            let tries = self.wrong_passphrases.load(Ordering::Relaxed);
            tracing::warn!("somebody at {from} tries passphrases; wrong since the start: {tries}");
        }
    }

    /// The system gives no more connections.
    pub(super) fn out_of_breath(&self, error: &io::Error) {
        if self.may_tell() {
            tracing::warn!(
                "the system gives no connection to a browser ({error}); frames go on. If it has too many \
                 files open, `LimitNOFILE=` of the unit or `ulimit -n` allows more."
            );
        }
    }

    fn tell_of_crowd(&self, crowd: &Crowd) {
        if !self.may_tell() {
            return;
        }
        let Counts {
            connections_refused,
            connections_gave_way,
            streams_refused,
            streams_gave_way,
            ..
        } = self.counts();
        let most = crowd.largest().map_or_else(String::new, |(place, held)| {
            format!(" Most come from {place}: {held}.")
        });
        tracing::warn!(
            connections_refused,
            connections_gave_way,
            streams_refused,
            streams_gave_way,
            "there is no room for all who connect to the dashboard; frames go on.{most}"
        );
    }

    fn may_tell(&self) -> bool {
        let now = timers::now();
        let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
        let may = told.is_none_or(|last| now >= last + TELL_EVERY);
        if may {
            *told = Some(now);
        }
        may
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test(start_paused = true)]
    async fn all_is_counted_and_told_once_a_minute() {
        let turned = Turned::default();
        assert!(turned.may_tell());
        assert!(!turned.may_tell());
        tokio::time::advance(TELL_EVERY).await;
        assert!(turned.may_tell());
        for _ in 0..3 {
            turned.too_slow();
        }
        turned.wrong_passphrase(Place::of([192, 168, 1, 20].into()));
        let counts = turned.counts();
        assert_eq!((counts.too_slow, counts.wrong_passphrases), (3, 1));
        assert_eq!(counts.connections_refused, 0);
    }
}
