//! The wall clock, for the history alone: nothing that is decided about the floor goes by it.

use std::time::{SystemTime, UNIX_EPOCH};

/// Milliseconds since 1970 began, without leap seconds; 0 before.
#[expect(
    clippy::disallowed_methods,
    reason = "history is read by people, who live by the wall clock"
)]
pub fn unix_ms() -> i64 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    since.map_or(0, |since| {
        i64::try_from(since.as_millis()).unwrap_or(i64::MAX)
    })
}
