//! The only file of this module that sees a clock.

use std::time::Duration;

use tokio::time::error::Elapsed;
use tokio::time::{Instant, Interval, MissedTickBehavior, interval_at, sleep_until, timeout};

/// This moment.
#[expect(
    clippy::disallowed_methods,
    reason = "paces and time limits of connections; nothing that is decided about the floor"
)]
pub(super) fn now() -> Instant {
    Instant::now()
}

/// Waits until `moment`.
pub(super) async fn until(moment: Instant) {
    sleep_until(moment).await;
}

/// Lets `work` take no longer than `limit`.
pub(super) async fn within<F: Future>(limit: Duration, work: F) -> Result<F::Output, Elapsed> {
    timeout(limit, work).await
}

/// Ticks after one `period` and then every `period`; missed ticks are not made up for.
pub(super) fn every(period: Duration) -> Interval {
    let mut ticks = interval_at(now() + period, period);
    ticks.set_missed_tick_behavior(MissedTickBehavior::Skip);
    ticks
}
