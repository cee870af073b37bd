//! `kill -9` at any moment, while a console plays, sensors report, people write into the book and the history
//! of power is kept; then started again. What was acknowledged is there, files are whole, and light comes
//! out again within a second.

use std::collections::BTreeSet;
use std::net::SocketAddrV4;
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc;
use std::time::{Duration, Instant};

use rusqlite::{Connection, OpenFlags};
use serde_json::{Value, json};

use crate::daemon::{self, Daemon, Node, PATIENCE, UNIVERSES, litfloor};
use crate::found;
use crate::player::{Flag, Playing, SOON, Seen, during, middle, ms, picture, until};

/// How often it is killed.
const KILLS: u64 = 20;

const TOKEN: &str = "a token of the test";

/// A floor with a sensor, and what happens to a signal that is lost.
fn floor(node: SocketAddrV4, lost: &str) -> String {
    daemon::six_panels(&[node])
        + "\n[[sensor]]\nname = \"clamp\"\nsupply = \"s\"\nevery_s = 0.1\n[signal]\nlost_after_s = 0.5\n"
        + lost
        + "\n"
}

/// Starts it on a port for Art-Net that stays the same.
fn start(path: &str, state: &Path, artnet: SocketAddrV4) -> Daemon {
    Daemon::of(to_start(path, state, artnet))
}

fn to_start(path: &str, state: &Path, artnet: SocketAddrV4) -> Command {
    let mut command = litfloor(&[
        "run",
        path,
        "--artnet",
        &artnet.to_string(),
        "--http",
        "127.0.0.1:0",
    ]);
    command
        .arg("--state")
        .arg(state)
        .env("LITFLOOR_READINGS_TOKEN", TOKEN);
    command
}

/// A random number below `most`: splitmix64, by its public description.
fn random(seed: &mut u64, most: u64) -> u64 {
    *seed = seed.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let mut mixed = *seed;
    mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    (mixed ^ (mixed >> 31)) % most
}

/// One request on a connection of its own; nothing when the daemon is gone.
fn post(http: SocketAddrV4, path: &str, header: &str, body: &Value) -> Option<u16> {
    use std::io::{Read, Write};
    let mut stream = std::net::TcpStream::connect(http).ok()?;
    stream.set_read_timeout(Some(PATIENCE)).ok()?;
    let body = body.to_string();
    write!(
        stream,
        "POST {path} HTTP/1.1\r\nHost: {http}\r\nConnection: close\r\n{header}Content-Type: \
         application/json\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    )
    .ok()?;
    let mut answer = Vec::new();
    stream.read_to_end(&mut answer).ok()?;
    let answer = String::from_utf8_lossy(&answer);
    answer.split(' ').nth(1)?.parse().ok()
}

/// People who write notes and sensors that report, as fast as they are answered, until the daemon is gone.
fn busy(http: SocketAddrV4, first: u64) -> (Flag, mpsc::Receiver<u64>) {
    let stop = Arc::new(AtomicBool::new(false));
    let (told, acknowledged) = mpsc::channel();
    let stopped = Arc::clone(&stop);
    std::thread::spawn(move || {
        let bearer = format!("Authorization: Bearer {TOKEN}\r\n");
        for number in first.. {
            if stopped.load(Ordering::Relaxed) {
                return;
            }
            let readings = json!({"readings": [{"sensor": "clamp", "value": 3.6}]});
            if number % 4 == 0 && post(http, "/api/v1/readings", &bearer, &readings).is_none() {
                return;
            }
            let serial = format!("M{}", number % 7);
            let note = json!({"text": number.to_string(), "who": "Ida"});
            match post(
                http,
                &format!("/api/v1/book/panels/{serial}/notes"),
                "",
                &note,
            ) {
                Some(200) => drop(told.send(number)),
                Some(other) => panic!("a note is answered {other}"),
                None => return,
            }
        }
    });
    (Flag(stop), acknowledged)
}

/// The notes of the book as the daemon tells them.
fn notes(daemon: &Daemon) -> BTreeSet<u64> {
    let mut found = BTreeSet::new();
    for serial in 0..7 {
        let (status, page) = daemon.get(&format!("/api/v1/book/panels/M{serial}"));
        if status == 200 {
            let page: Value = serde_json::from_str(&page).unwrap();
            let notes = page["notes"].as_array().unwrap();
            found.extend(
                notes
                    .iter()
                    .map(|note| note["text"].as_str().unwrap().parse::<u64>().unwrap()),
            );
        }
    }
    found
}

/// What SQLite says of a file that nobody has open, as whoever starts next finds it.
fn whole(directory: &Path, name: &str) -> Option<Connection> {
    let copy = tempfile::tempdir_in(directory.parent().unwrap()).unwrap();
    let mut is_there = false;
    for file in std::fs::read_dir(directory).unwrap() {
        let file = file.unwrap();
        let called = file.file_name().into_string().unwrap();
        if called.starts_with(name) {
            std::fs::copy(file.path(), copy.path().join(&called)).unwrap();
            is_there |= called == name;
        }
    }
    // Killed before it was made.
    if !is_there {
        return None;
    }
    let connection = Connection::open(copy.path().join(name)).unwrap();
    let said: String = connection
        .query_row("PRAGMA integrity_check", [], |row| row.get(0))
        .unwrap();
    assert_eq!(said, "ok", "{name}");
    // It stays open although the directory goes.
    Some(connection)
}

/// Seconds of history that are committed: how many, and the newest.
fn seconds(connection: &Connection) -> (i64, i64) {
    let ask = "SELECT count(DISTINCT at), coalesce(max(at), 0) FROM seconds";
    connection
        .query_row(ask, [], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap_or((0, 0))
}

fn seconds_of_a_running(directory: &Path) -> (i64, i64) {
    let path = directory.join("history.sqlite3");
    Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY)
        .map_or((0, 0), |file| seconds(&file))
}

/// Lets people and sensors work for a random while and kills it in the middle of that; gives the seconds of
/// history that are in its file then.
fn kill_at_work(
    daemon: Daemon,
    state: &Path,
    kill: u64,
    seed: &mut u64,
    acknowledged: &mut BTreeSet<u64>,
) -> (i64, i64) {
    let first = acknowledged.last().map_or(0, |last| last + 1);
    let (stop, written) = busy(daemon.http, first);
    let mut one_more = || {
        let number = written.recv_timeout(PATIENCE);
        acknowledged.insert(number.expect("it writes until it is killed"));
    };
    for _ in 0..random(seed, 60) {
        one_more();
    }
    // Every fifth has written history once more before it is killed.
    let before = seconds_of_a_running(state);
    let begun = Instant::now();
    while kill % 5 == 4 && seconds_of_a_running(state) <= before {
        one_more();
        assert!(begun.elapsed() < PATIENCE, "no history is written");
    }
    let was = seconds_of_a_running(state);
    spin(seed);
    daemon.kill();
    drop(stop);
    acknowledged.extend(written.iter());
    whole(state, "book.sqlite3");
    let history = whole(state, "history.sqlite3").map_or((0, 0), |file| seconds(&file));
    assert!(
        history >= was,
        "kill {kill}: seconds of history were there and are lost: {history:?} {was:?}"
    );
    history
}

/// Kills it before it has said a word, somewhere while it opens its files.
fn kill_at_start(mut command: Command, seed: &mut u64) {
    let mut child = command.stdout(Stdio::null()).spawn().unwrap();
    for _ in 0..=random(seed, 10) {
        spin(seed);
    }
    child.kill().unwrap();
    child.wait().unwrap();
}

/// A random moment later, within some milliseconds.
fn spin(seed: &mut u64) {
    for _ in 0..random(seed, 2_000_000) {
        std::hint::spin_loop();
    }
}

#[test]
fn what_was_acknowledged_is_there_and_light_comes_out_within_a_second() {
    let node = Node::open("six");
    let (_directory, path) = daemon::file(&floor(node.address, "when_lost = \"hold\""));
    let kept = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).unwrap();
    let state = kept.path().join("state");
    let artnet = daemon::free_udp_port();
    let console = Playing::to(artnet, 0);
    let mut seed = 20_261_128;
    let mut acknowledged = BTreeSet::new();
    let (mut took, mut slowest_ready) = (Vec::new(), Duration::ZERO);
    let (mut kept_seconds, mut unwritten) = ((0, 0), 0);
    for kill in 0..KILLS {
        // What the node shows from here on came from this process.
        let mut seen = Seen::default();
        node.arrived.try_iter().for_each(drop);
        let from = console.newest();
        let begun = Instant::now();
        let daemon = start(&path, &state, artnet);
        slowest_ready = slowest_ready.max(begun.elapsed());
        // The console goes on all the time, so its newest picture is what must come out.
        until(&node, &mut seen, |seen| {
            seen.whole().is_some_and(|number| number > from)
        });
        took.push(begun.elapsed());
        let there = notes(&daemon);
        let lost: Vec<_> = acknowledged.difference(&there).collect();
        assert!(
            lost.is_empty(),
            "kill {kill}: notes {lost:?} were acknowledged and are lost"
        );
        unwritten += there.difference(&acknowledged).count();
        acknowledged.extend(&there);
        kept_seconds = kill_at_work(daemon, &state, kill, &mut seed, &mut acknowledged);
        if kill % 5 == 2 {
            kill_at_start(to_start(&path, &state, artnet), &mut seed);
        }
    }
    let daemon = start(&path, &state, artnet);
    let there = notes(&daemon);
    assert!(
        acknowledged.is_subset(&there) && there.len() > 100,
        "{}",
        there.len()
    );
    let trouble = &daemon.json("/api/v1/energy")["recording"];
    assert_eq!(
        trouble,
        &json!({"in_file": true, "trouble": null, "lost_rows": 0})
    );
    let moved = std::fs::read_dir(&state).unwrap().filter(|file| {
        file.as_ref()
            .unwrap()
            .file_name()
            .to_string_lossy()
            .contains("unreadable")
    });
    assert_eq!(moved.count(), 0, "a history was moved aside");
    assert!(kept_seconds.0 > 4, "{kept_seconds:?}");
    println!(
        "{} notes in {KILLS} kills, {unwritten} more than were acknowledged, {} seconds of history kept, ready \
         within {}",
        there.len(),
        kept_seconds.0,
        ms(slowest_ready),
    );
    found(
        &format!("kill -9, {KILLS} times at random moments, the console plays"),
        "started again",
        "no acknowledged entry, no written second of history (it is written every 5 s); SQLite's integrity check: ok \
         each time",
        &format!(
            "{} (at most {}) from the start of the process to the console's newest picture",
            ms(middle(&mut took)),
            ms(took[took.len() - 1])
        ),
    );
    assert!(middle(&mut took) <= SOON, "{took:?}");
}

/// Killed, started again, and then the console ends: what the floor file says of a lost signal holds.
fn lost_after_a_kill(lost: &str, content: impl Fn(&Seen, u32) -> bool) -> Duration {
    let node = Node::open("six");
    let (_directory, path) = daemon::file(&floor(node.address, lost));
    let kept = tempfile::tempdir().unwrap();
    let artnet = daemon::free_udp_port();
    let console = Playing::to(artnet, 0);
    let mut seen = Seen::default();
    let daemon = start(&path, kept.path(), artnet);
    until(&node, &mut seen, |seen| seen.whole().is_some());
    daemon.kill();
    node.arrived.try_iter().for_each(drop);
    let from = console.newest();
    let mut seen = Seen::default();
    let daemon = start(&path, kept.path(), artnet);
    until(&node, &mut seen, |seen| {
        seen.whole().is_some_and(|number| number > from)
    });
    let last = console.end();
    daemon.until(PATIENCE, |state| (state["signal"] == "lost").then_some(()));
    let begun = Instant::now();
    // Held frames are sent again within a second.
    let frames = seen.frames;
    until(&node, &mut seen, |seen| {
        content(seen, last) && seen.frames >= frames + 2 * UNIVERSES.len() as u64
    });
    begun.elapsed()
}

#[test]
fn after_a_kill_a_lost_signal_is_held_or_fades_as_the_file_says() {
    let held = lost_after_a_kill("when_lost = \"hold\"", |seen, last| {
        seen.whole() == Some(last)
    });
    let dark = |seen: &Seen, _| {
        seen.held
            .values()
            .all(|slots| slots.iter().all(|level| *level == 0))
    };
    let faded = lost_after_a_kill("when_lost = \"fade\"\nfade_s = 0.5", dark);
    found(
        "kill -9, then the console is lost",
        "`hold`: the last picture goes on; `fade`: black",
        "nothing",
        &format!("black {} after the loss was told", ms(faded)),
    );
    println!("held pictures were sent again within {}", ms(held));
}

/// The picture stands still, so the console repeats it once a second: a process that is killed and started
/// again between two of these leaves to the nodes what they hold. Then it has to reckon with nodes that may be
/// showing anything, so the picture dips until the limits are surely kept.
#[test]
fn a_picture_that_stands_still_is_not_darkened_by_a_new_start() {
    let node = Node::open("six");
    let (_directory, path) = daemon::file(&floor(node.address, "when_lost = \"hold\""));
    let kept = tempfile::tempdir().unwrap();
    let artnet = daemon::free_udp_port();
    let mut daemon = Some(start(&path, kept.path(), artnet));
    let console = daemon::Console::open(artnet);
    let repeat = || {
        for universe in UNIVERSES {
            console.try_dmx(universe, &picture(7));
        }
    };
    let mut seen = Seen::default();
    repeat();
    until(&node, &mut seen, |seen| seen.whole() == Some(7));
    let mut dips = Vec::new();
    for round in 0..3 {
        daemon.take().unwrap().kill();
        node.arrived
            .try_iter()
            .for_each(|bytes| seen.take(&bytes, Instant::now()));
        let frames = seen.frames;
        daemon = Some(start(&path, kept.path(), artnet));
        // Art-Net 4: what stands still is sent again after 800 to 1,000 ms.
        during(&node, &mut seen, Duration::from_millis(800 + 50 * round));
        assert_eq!(
            seen.frames, frames,
            "something left before the console spoke"
        );
        assert_eq!(seen.whole(), Some(7));
        repeat();
        until(&node, &mut seen, |seen| seen.frames > frames);
        dips.push(until(&node, &mut seen, |seen| seen.whole() == Some(7)));
    }
    found(
        "kill -9 three times, the picture stands still and is repeated every 0.8 to 0.9 s",
        "started again; nodes held the picture until the console repeated it, then it dipped",
        "nothing but the dip",
        &format!("as before after a dip of {}", ms(middle(&mut dips))),
    );
    assert!(middle(&mut dips) <= SOON, "{dips:?}");
    // The console is lost as well: a new process knows of no picture, and makes dark what nobody sends.
    drop(daemon.take());
    let begun = Instant::now();
    let daemon = start(&path, kept.path(), artnet);
    until(&node, &mut seen, |seen| {
        seen.held
            .values()
            .all(|slots| slots.iter().all(|level| *level == 0))
    });
    let dark = begun.elapsed();
    assert!(dark > Duration::from_secs(1), "{dark:?}");
    found(
        "kill -9, and no console when it starts again",
        &format!(
            "what nobody sends is made dark {} after the start",
            ms(dark)
        ),
        "the held picture",
        "with the console's next frame",
    );
    drop(daemon);
}
