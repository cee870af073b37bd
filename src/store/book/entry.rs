//! What is written, and its moment.

use std::time::{Duration, SystemTime, UNIX_EPOCH};

pub use crate::book::entry::{BenchEntry, ByHand, DAEMON, Found, Step};
pub(super) use crate::book::entry::{currents, name, perhaps, person, said, text};

/// The last millisecond of the year 9999: what has four digits.
const LAST_MS: u64 = 253_402_300_799_999;

/// A moment as the book writes it: RFC 3339 in UTC, to the millisecond. What lies outside of 1970 to
/// 9999, as by a clock that was never set, is written as the nearest that does not.
pub fn stamp(at: SystemTime) -> String {
    let since = at.duration_since(UNIX_EPOCH).unwrap_or_default();
    let ms = u64::try_from(since.as_millis()).unwrap_or(LAST_MS);
    let at = UNIX_EPOCH + Duration::from_millis(ms.min(LAST_MS));
    humantime::format_rfc3339_millis(at).to_string()
}
