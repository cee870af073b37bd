//! The one clock.

use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use crate::units::Time;

/// Counts microseconds since the daemon started; never runs backwards.
#[derive(Debug, Clone, Copy)]
pub struct Clock(Instant);

impl Clock {
    /// Starts at zero.
    #[expect(clippy::disallowed_methods, reason = "this is the one clock")]
    pub fn start() -> Self {
        Self(Instant::now())
    }

    /// Now.
    pub fn now(&self) -> Time {
        Time(u64::try_from(self.0.elapsed().as_micros()).unwrap_or(u64::MAX))
    }

    /// The moment that a runtime's timer should wait for.
    pub fn instant(&self, at: Time) -> Instant {
        self.0 + Duration::from_micros(at.0)
    }
}

/// Seconds since 1970, UTC, as this machine has them: for what people read later, never for what is
/// decided.
#[expect(clippy::disallowed_methods, reason = "the one clock on the wall")]
pub fn unix_s() -> u64 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    since.map_or(0, |since| since.as_secs())
}
