//! The disk is full, and the state directory can't be written: frames go on, what can't be kept is told, and
//! it is kept again when there is room.
//!
//! The full disk is a small one of the test's own (tmpfs), mounted where only the daemon sees it.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::daemon::{self, Daemon, Node, PATIENCE, litfloor};
use crate::player::{Playing, SOON, Seen, during, ms, until};
use crate::{found, not_run};

/// Whether mounts of one's own can be made here.
fn may_mount(directory: &Path) -> bool {
    let script = "mount -t tmpfs -o size=1m tmpfs \"$1\"";
    let tried = Command::new("unshare")
        .args(["-m", "sh", "-c", script, "sh"])
        .arg(directory)
        .output();
    match tried {
        Ok(tried) if tried.status.success() => true,
        Ok(tried) => {
            not_run(
                "a disk of the test's own",
                String::from_utf8_lossy(&tried.stderr).trim(),
            );
            false
        }
        Err(why) => {
            not_run("a disk of the test's own", &why.to_string());
            false
        }
    }
}

/// Runs a floor that keeps what it keeps on a disk of its own; `prepare` is done there before.
fn run_on_a_small_disk(path: &str, state: &Path, size: &str, prepare: &str) -> Daemon {
    let script =
        format!("mount -t tmpfs -o size={size} tmpfs \"$1\" && {prepare} && shift && exec \"$@\"");
    let run = litfloor(&[
        "run",
        path,
        "--artnet",
        "127.0.0.1:0",
        "--http",
        "127.0.0.1:0",
    ]);
    let mut command = litfloor(&[]);
    // The same surroundings, another program: each step is the same process.
    let mut unshared = Command::new("unshare");
    unshared.args(["-m", "sh", "-c", &script, "sh"]).arg(state);
    unshared
        .arg(command.get_program())
        .args(run.get_args())
        .arg("--state")
        .arg(state);
    for (name, value) in command.get_envs() {
        match value {
            Some(value) => unshared.env(name, value),
            None => unshared.env_remove(name),
        };
    }
    unshared.current_dir(env!("CARGO_MANIFEST_DIR"));
    command = unshared;
    Daemon::of(command)
}

/// The state directory as the daemon sees it.
fn inside(daemon: &Daemon, state: &Path) -> PathBuf {
    let below = state.strip_prefix("/").unwrap();
    Path::new("/proc")
        .join(daemon.pid().to_string())
        .join("root")
        .join(below)
}

/// Writes until nothing more fits.
fn fill(path: &Path) {
    use std::io::Write;
    let mut file = std::fs::File::create(path).unwrap();
    for size in [4_096, 64, 1] {
        while file.write_all(&vec![7; size]).is_ok() {}
    }
}

fn trouble(daemon: &Daemon) -> Value {
    daemon.json("/api/v1/energy")["recording"]["trouble"].clone()
}

fn note(daemon: &Daemon, text: &str) -> (u16, Value) {
    let body = json!({"text": text, "who": "Ida"}).to_string();
    daemon.ask("POST", "/api/v1/book/panels/M1/notes", &body)
}

/// Plays on, and looks, until something is so; gives how long that took.
fn wait(node: &Node, seen: &mut Seen, mut so: impl FnMut() -> bool) -> Duration {
    let begun = Instant::now();
    while !so() {
        assert!(begun.elapsed() < PATIENCE, "it never came");
        during(node, seen, Duration::from_millis(50));
    }
    begun.elapsed()
}

#[test]
fn a_full_disk_stops_no_frame_and_is_told() {
    let kept = tempfile::tempdir().unwrap();
    if !may_mount(kept.path()) {
        return;
    }
    let node = Node::open("six");
    let (_directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    let daemon = run_on_a_small_disk(&path, kept.path(), "4m", "true");
    let console = Playing::to(daemon.artnet, 0);
    let mut seen = Seen::default();
    until(&node, &mut seen, |seen| seen.whole().is_some());
    let first = console.newest() + 1;
    assert_eq!(note(&daemon, "before").0, 200);
    wait(&node, &mut seen, || trouble(&daemon).is_null());

    let filler = inside(&daemon, kept.path()).join("filler");
    fill(&filler);
    // What is in the book's file may be written over; as much as this needs room.
    let long = "x".repeat(1_500);
    let mut refused = None;
    let told = wait(&node, &mut seen, || {
        if refused.is_none() {
            let (status, said) = note(&daemon, &long);
            refused = (status != 200).then_some((status, said));
        }
        refused.is_some() && trouble(&daemon).is_string()
    });
    let (status, said) = refused.unwrap();
    assert_eq!(status, 503, "{said}");
    let why = trouble(&daemon);
    assert!(why.as_str().unwrap().contains("make room"), "{why}");
    during(&node, &mut seen, Duration::from_secs(2));
    assert_eq!(daemon.json("/api/v1/state")["signal"], "live");
    // What was written before can be read.
    let page = daemon.json("/api/v1/book/panels/M1");
    assert!(page["notes"].to_string().contains("before"));

    std::fs::remove_file(&filler).unwrap();
    let begun = Instant::now();
    wait(&node, &mut seen, || note(&daemon, "after").0 == 200);
    let book = begun.elapsed();
    wait(&node, &mut seen, || trouble(&daemon).is_null());
    let history = begun.elapsed();
    let rows = daemon.json("/api/v1/energy")["recording"]["lost_rows"].clone();
    let last = console.end();
    until(&node, &mut seen, |seen| seen.whole() == Some(last));
    let missing = seen.missing(first, last);
    found(
        "the disk is full",
        &format!(
            "told after {} ({why}; an entry is answered {status}: {})",
            ms(told),
            said["message"]
        ),
        &format!(
            "{missing} of {} pictures, {rows} rows of history",
            last + 1 - first
        ),
        &format!(
            "with room again: the book after {}, the history after {}",
            ms(book),
            ms(history)
        ),
    );
    assert_eq!((missing, rows), (0, json!(0)));
    assert!(daemon.end_with("TERM").success());
}

#[test]
fn a_state_directory_that_can_only_be_read_stops_no_frame_and_is_told() {
    let kept = tempfile::tempdir().unwrap();
    if !may_mount(kept.path()) {
        return;
    }
    let node = Node::open("six");
    let (_directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    // What an earlier run has kept is there.
    let earlier = tempfile::tempdir().unwrap();
    let daemon = daemon::run_keeping(&path, earlier.path());
    assert_eq!(note(&daemon, "earlier").0, 200);
    assert!(daemon.end_with("TERM").success());
    let prepare = format!(
        "cp -a '{}/.' \"$1\" && mount -o remount,ro \"$1\"",
        earlier.path().display()
    );
    let begun = Instant::now();
    let daemon = run_on_a_small_disk(&path, kept.path(), "4m", &prepare);
    let console = Playing::to(daemon.artnet, 0);
    let mut seen = Seen::default();
    until(&node, &mut seen, |seen| seen.whole().is_some());
    let took = begun.elapsed();
    let why = daemon.until(PATIENCE, |_| trouble(&daemon).as_str().map(str::to_owned));
    let (status, said) = note(&daemon, "not to be kept");
    assert_eq!(status, 503, "{said}");
    // What is in the book can be looked at.
    let panel = daemon.json("/api/v1/book/panels/M1");
    let notes = panel["notes"].as_array().unwrap();
    assert_eq!((notes.len(), &notes[0]["text"]), (1, &json!("earlier")));
    let passphrase = json!({"passphrase": "the floor of tonight"}).to_string();
    let (refused, told) = daemon.ask("PUT", "/api/v1/passphrase", &passphrase);
    assert_eq!(refused, 503, "{told}");
    let first = console.newest();
    during(&node, &mut seen, Duration::from_secs(2));
    let last = console.end();
    until(&node, &mut seen, |seen| seen.whole() == Some(last));
    let missing = seen.missing(first, last);
    found(
        "the state directory is read-only",
        &format!(
            "the floor runs; told: {why}; an entry is answered {status}: {}",
            said["message"]
        ),
        &format!("{missing} of {} pictures", last + 1 - first),
        &format!("light {} after the start of the process", ms(took)),
    );
    assert_eq!(missing, 0);
    assert!(took <= 5 * SOON, "{took:?}");
    assert!(daemon.end_with("TERM").success());
}
