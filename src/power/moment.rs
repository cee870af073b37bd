//! Moments of the wall clock as people and programs write them: RFC 3339, which is ISO 8601, in UTC.

use std::time::{Duration, UNIX_EPOCH};

/// The last second of the year 9999: what has four digits.
const LAST: i64 = 253_402_300_799;

/// The second `unix_s` since 1970 in UTC.
pub fn iso(unix_s: i64) -> String {
    let since = Duration::from_secs(unix_s.clamp(0, LAST).unsigned_abs());
    humantime::format_rfc3339_seconds(UNIX_EPOCH + since).to_string()
}

/// Reads a moment: seconds since 1970, or a time in UTC.
///
/// # Errors
/// What it must be instead.
pub fn read(text: &str) -> Result<i64, &'static str> {
    if let Ok(seconds) = text.parse::<i64>() {
        let sound = (0..=LAST).contains(&seconds);
        return sound
            .then_some(seconds)
            .ok_or("seconds since 1970, up to the year 9999");
    }
    let parsed = humantime::parse_rfc3339_weak(text.trim()).ok();
    let since = parsed.and_then(|at| at.duration_since(UNIX_EPOCH).ok());
    since
        .and_then(|since| i64::try_from(since.as_secs()).ok())
        .ok_or("seconds since 1970, or a time like 2026-06-20T21:14:03Z")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_are_those_of_the_standard() {
        // RFC 3339 § 5.8 has the first two examples; the third is by `date -u -d @951782400`.
        assert_eq!(read("1985-04-12T23:20:50.52Z"), Ok(482_196_050));
        assert_eq!(read("0"), Ok(0));
        assert_eq!(iso(951_782_400), "2000-02-29T00:00:00Z");
        assert_eq!(read("2000-02-29 00:00:00"), Ok(951_782_400));
        for wrong in [
            "",
            "soon",
            "-1",
            "2000-13-01T00:00:00Z",
            "1960-01-01T00:00:00Z",
        ] {
            assert!(read(wrong).is_err(), "{wrong}");
        }
        for unix_s in [0, 1, 86_399, 1_767_225_599, 4_102_444_800] {
            assert_eq!(read(&iso(unix_s)), Ok(unix_s));
        }
    }
}
