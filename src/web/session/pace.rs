//! How often something is sent to a client.

use std::sync::Arc;
use std::time::Duration;

use tokio::time::Instant;

use super::super::messages::Picture;
use super::super::timers;
use crate::engine::snapshot::Levels;

/// Most pictures a second.
pub(super) const MOST_FPS: f64 = 30.0;

/// When something may be sent again.
pub(super) struct Pace {
    pub(super) every: Duration,
    pub(super) next: Instant,
    /// Whether there is something new.
    pub(super) due: bool,
}

impl Pace {
    pub(super) fn new(every: Duration) -> Self {
        Self {
            every,
            next: timers::now(),
            due: true,
        }
    }

    /// It is sent now. The pace is kept on average, and what was missed is not made up for.
    pub(super) fn sent(&mut self) {
        let now = timers::now();
        let late = now.saturating_duration_since(self.next);
        self.next = if late < self.every { self.next } else { now } + self.every;
        self.due = false;
    }
}

/// One view of the picture, as far as a client wants it.
pub(super) struct Stream {
    pub(super) picture: Picture,
    pub(super) wanted: bool,
    pub(super) pace: Pace,
    /// The picture that was sent last; nothing after a change of view or floor.
    pub(super) seen: Option<Arc<Levels>>,
}

impl Stream {
    pub(super) fn new(picture: Picture) -> Self {
        Self {
            picture,
            wanted: false,
            pace: Pace::new(period(MOST_FPS)),
            seen: None,
        }
    }

    /// It is wanted so often; `anew` if the newest is to come even if it was sent before.
    pub(super) fn want(&mut self, fps: f64, anew: bool) {
        if anew || !self.wanted {
            self.seen = None;
            self.pace.due = true;
        }
        self.wanted = true;
        self.pace.every = period(fps);
        // The pace of before ends, but no wish brings a picture sooner than this pace does.
        self.pace.next = self.pace.next.min(timers::now() + self.pace.every);
    }
}

/// Time between two pictures.
fn period(fps: f64) -> Duration {
    Duration::from_secs_f64(1.0 / fps.clamp(1.0, MOST_FPS))
}
