//! The clock on the wall, by which history and book are written, and the one that frames go by.

use std::fs;
use std::process::{Command, Stdio};
use std::sync::mpsc;
use std::time::{Duration, UNIX_EPOCH};

use super::Point;
use crate::net::clock;

/// What another program may take to answer.
const PATIENCE: Duration = Duration::from_secs(3);

/// 2025 and 2100, 1 January, in seconds since 1970. A clock that lies outside was never set.
const SANE: std::ops::Range<u64> = 1_735_689_600..4_102_444_800;

pub(super) fn look() -> Vec<Point> {
    let mut points = vec![of_wall(clock::unix_s(), synchronised())];
    let source = "/sys/devices/system/clocksource/clocksource0/current_clocksource";
    points.extend(
        fs::read_to_string(source)
            .ok()
            .and_then(|name| of_timer(name.trim())),
    );
    points
}

/// Whether a time server keeps the clock; nothing if that can't be told.
fn synchronised() -> Option<bool> {
    let (told, answer) = mpsc::channel();
    // It may hang on a bus that nobody answers at; then it is left to itself.
    std::thread::spawn(move || {
        let output = Command::new("timedatectl")
            .args(["show", "--property=NTPSynchronized", "--value"])
            .stdin(Stdio::null())
            .stderr(Stdio::null())
            .output();
        let _ = told.send(output);
    });
    let output = answer.recv_timeout(PATIENCE).ok()?.ok()?;
    match output.stdout.trim_ascii() {
        b"yes" => Some(true),
        b"no" => Some(false),
        _ => None,
    }
}

fn of_wall(unix_s: u64, synchronised: Option<bool>) -> Point {
    let now = UNIX_EPOCH + Duration::from_secs(unix_s);
    let now = humantime::format_rfc3339_seconds(now);
    if !SANE.contains(&unix_s) {
        return Point::wrong(
            "clock",
            format!("it says {now} (UTC): history and book would be written under that"),
            "set it, for example by `timedatectl set-time`, or let a time server do so; a small board \
             without a battery forgets the time whenever it is off",
        );
    }
    match synchronised {
        Some(true) => Point::fine("clock", format!("{now} (UTC), kept by a time server")),
        Some(false) => Point::mind(
            "clock",
            format!("it says {now} (UTC), and no time server keeps it"),
            "compare it with a watch: history and book go by it, frames do not",
        ),
        None => Point::fine(
            "clock",
            format!("{now} (UTC); whether a time server keeps it can't be told here"),
        ),
    }
}

/// Linux counts ticks of some milliseconds only where it found nothing better.
fn of_timer(source: &str) -> Option<Point> {
    source.contains("jiffies").then(|| {
        Point::mind(
            "timer",
            format!("the system counts time by {source}, in steps of some milliseconds"),
            "frames may leave late by that much: look at the boot log for why there is no better one",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::super::Verdict;
    use super::*;

    #[test]
    fn a_clock_that_was_never_set_is_wrong() {
        let verdict = |unix_s, kept| of_wall(unix_s, kept).verdict;
        assert_eq!(verdict(0, Some(true)), Verdict::Wrong);
        // 2024-12-31T23:59:59Z, 2025-01-01 and 2099-12-31T23:59:59Z, as `date -u -d @…` has them.
        assert_eq!(verdict(1_735_689_599, None), Verdict::Wrong);
        assert_eq!(verdict(1_735_689_600, None), Verdict::Fine);
        assert_eq!(verdict(4_102_444_799, Some(true)), Verdict::Fine);
        assert_eq!(verdict(1_800_000_000, Some(false)), Verdict::Mind);
        assert!(of_wall(0, None).told.contains("1970-01-01T00:00:00Z"));
    }

    #[test]
    fn a_coarse_timer_is_told() {
        assert!(of_timer("refined-jiffies").is_some());
        assert!(of_timer("tsc").is_none());
    }
}
