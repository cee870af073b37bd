//! The wall clock steps an hour back and an hour ahead. Frames go by another clock; the history and the book
//! go by this one, and must stay whole.
//!
//! The clock that steps is libfaketime's: the process asks it in place of the system's.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use rusqlite::Connection;
use serde_json::{Value, json};

use crate::daemon::{self, Daemon, Node, PATIENCE};
use crate::player::{Playing, Seen, during, ms, until};
use crate::{found, not_run};

/// Where Debian's package `libfaketime` puts it, on any kind of processor.
fn library() -> Option<PathBuf> {
    let beside = std::fs::read_dir("/usr/lib").ok()?.filter_map(Result::ok);
    let mut places = beside.map(|place| place.path().join("faketime/libfaketimeMT.so.1"));
    places.find(|path| path.exists())
}

fn set(file: &Path, offset: &str) {
    // Whole at once, for it is read all the time.
    let new = file.with_extension("new");
    std::fs::write(&new, format!("{offset}\n")).unwrap();
    std::fs::rename(new, file).unwrap();
}

/// What the daemon takes for now, in seconds since 1970: it says when a note was written.
fn says(daemon: &Daemon) -> i64 {
    let (status, _) = daemon.ask(
        "POST",
        "/api/v1/book/panels/M1/notes",
        &json!({"text": "x", "who": "Ida"}).to_string(),
    );
    assert_eq!(status, 200);
    let page = daemon.json("/api/v1/book/panels/M1");
    let notes = page["notes"].as_array().unwrap().iter();
    let newest = notes.max_by_key(|note| note["id"].as_i64()).unwrap();
    let at = newest["at"].as_str().unwrap();
    let at = humantime::parse_rfc3339(at).unwrap();
    at.duration_since(std::time::UNIX_EPOCH)
        .unwrap()
        .as_secs()
        .try_into()
        .unwrap()
}

fn real() -> i64 {
    let now = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    now.unwrap().as_secs().try_into().unwrap()
}

/// Uptime and trouble of what is recorded.
fn recorded(daemon: &Daemon) -> Value {
    daemon.json("/api/v1/energy")["recording"].clone()
}

#[test]
fn an_hour_back_and_ahead_loses_no_frame_and_no_history() {
    let Some(library) = library() else {
        not_run("a clock that steps", "libfaketime is missing");
        return;
    };
    let node = Node::open("six");
    let (_directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    let kept = tempfile::tempdir().unwrap();
    let offset = kept.path().join("offset");
    set(&offset, "+0");
    let mut command: Command = daemon::to_run(&path);
    command
        .arg("--state")
        .arg(kept.path().join("state"))
        .env("LD_PRELOAD", library);
    command
        .env("FAKETIME_TIMESTAMP_FILE", &offset)
        .env("FAKETIME_NO_CACHE", "1");
    // Clocks that can't step don't.
    command
        .env("FAKETIME_DONT_FAKE_MONOTONIC", "1")
        .env("DONT_FAKE_MONOTONIC", "1");
    let daemon = Daemon::of(command);
    let console = Playing::to(daemon.artnet, 0);
    let mut seen = Seen::default();
    until(&node, &mut seen, |seen| seen.whole().is_some());
    assert!(
        (says(&daemon) - real()).abs() <= 2,
        "it does not begin with the clock of this machine"
    );
    let first = console.newest() + 1;
    let mut uptime = 0.0;
    for (hours, text) in [(-1, "-3600"), (1, "+3600"), (0, "+0")] {
        set(&offset, text);
        let begun = Instant::now();
        while (says(&daemon) - real() - 3_600 * hours).abs() > 2 {
            assert!(
                begun.elapsed() < PATIENCE,
                "the clock of the process does not step"
            );
            during(&node, &mut seen, Duration::from_millis(20));
        }
        // Longer than the history waits between two commits.
        during(&node, &mut seen, Duration::from_secs(6));
        let state = daemon.json("/api/v1/state");
        let now = state["uptime_s"].as_f64().unwrap();
        assert!(
            now > uptime + 5.0 && now < 600.0,
            "the uptime steps: {now} after {uptime}"
        );
        uptime = now;
        assert_eq!(state["signal"], "live");
        assert_eq!(
            recorded(&daemon),
            json!({"in_file": true, "trouble": null, "lost_rows": 0})
        );
    }
    let last = console.end();
    until(&node, &mut seen, |seen| seen.whole() == Some(last));
    let (missing, gap) = (seen.missing(first, last), seen.longest_gap);
    let uptime = daemon.json("/api/v1/state")["uptime_s"].as_f64().unwrap();
    assert!(daemon.end_with("TERM").success());
    let files = ["history.sqlite3", "book.sqlite3"].map(|name| {
        let file = Connection::open(kept.path().join("state").join(name)).unwrap();
        let said: String = file
            .query_row("PRAGMA integrity_check", [], |row| row.get(0))
            .unwrap();
        assert_eq!(said, "ok", "{name}");
        file
    });
    // What was drawn in each of the three hours is there.
    let told = |from: i64, to: i64| -> f64 {
        let ask = "SELECT coalesce(sum(covered_ms), 0) / 1e3 FROM seconds JOIN series ON series.id = series \
                   WHERE kind = 'supply' AND at BETWEEN ?1 AND ?2";
        files[0]
            .query_row(ask, [from, to], |row| row.get(0))
            .unwrap()
    };
    let hours = [-1, 0, 1]
        .map(|hour| real() + 3_600 * hour)
        .map(|now| told(now - 60, now + 60));
    let unrecorded = uptime - told(0, i64::MAX);
    found(
        "the wall clock steps an hour back, two ahead, one back",
        &format!(
            "longest gap between two datagrams {}; history has {:.0}, {:.0} and {:.0} s in the three hours",
            ms(gap),
            hours[0],
            hours[1],
            hours[2]
        ),
        &format!(
            "{missing} of {} pictures; both files whole",
            last + 1 - first
        ),
        "at once",
    );
    assert_eq!(missing, 0, "pictures were lost");
    assert!(hours.iter().all(|seconds| *seconds >= 5.0), "{hours:?}");
    assert!(unrecorded < 3.0, "{unrecorded} s of {uptime} s");
}
