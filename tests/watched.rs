//! The program under a service manager: what it says by `sd_notify(3)`, heard through the socket that
//! a manager would give it.

#![cfg(target_os = "linux")]
#![allow(
    clippy::disallowed_methods,
    reason = "this test is a service manager: it has a socket and a clock"
)]

mod daemon;

use std::io::ErrorKind;
use std::os::unix::net::UnixDatagram;
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use daemon::{Daemon, Node, PATIENCE};

/// What stands for a service manager.
struct Manager(UnixDatagram);

impl Manager {
    fn open(path: &Path) -> Self {
        Self(UnixDatagram::bind(path).unwrap())
    }

    /// The next thing that it is told, if that comes within `patience`.
    fn told(&self, patience: Duration) -> Option<String> {
        self.0.set_read_timeout(Some(patience)).unwrap();
        let mut buffer = [0; 4_096];
        match self.0.recv(&mut buffer) {
            Ok(length) => Some(String::from_utf8(buffer[..length].to_vec()).unwrap()),
            Err(error) if matches!(error.kind(), ErrorKind::WouldBlock) => None,
            Err(error) => panic!("{error}"),
        }
    }

    fn told_soon(&self) -> String {
        self.told(PATIENCE).expect("it says nothing")
    }

    /// Takes all that was said until now.
    fn drain(&self) {
        while self.told(Duration::from_millis(1)).is_some() {}
    }
}

/// `run`, as a service manager starts it that wants to be fed if `watchdog` says so.
fn to_run(floor: &str, socket: &Path, watchdog: bool) -> Command {
    let mut command = daemon::to_run(floor);
    command
        .env("NOTIFY_SOCKET", socket)
        .env_remove("WATCHDOG_PID");
    if watchdog {
        command.env("WATCHDOG_USEC", "2000000");
    } else {
        command.env_remove("WATCHDOG_USEC");
    }
    command
}

#[test]
fn a_service_manager_is_fed_while_the_data_plane_works_and_only_then() {
    let node = Node::open("six");
    let (directory, floor) = daemon::file(&daemon::six_panels(&[node.address]));
    let socket = directory.path().join("notify");
    let manager = Manager::open(&socket);
    let daemon = Daemon::of(to_run(&floor, &socket, true));
    // sd_notify(3): assignments, one to a line.
    assert_eq!(manager.told_soon(), "READY=1\nWATCHDOG=1\n");
    // Ready means ready: it answers, and frames run.
    daemon.until_well();
    let begun = Instant::now();
    for _ in 0..10 {
        assert_eq!(manager.told_soon(), "WATCHDOG=1\n");
    }
    // Half of the two seconds that it was given would do for each (sd_watchdog_enabled(3)).
    assert!(
        begun.elapsed() < Duration::from_secs(10),
        "{:?}",
        begun.elapsed()
    );

    // Stopped, it handles nothing and feeds nobody.
    daemon.signal("STOP");
    while manager.told(Duration::from_millis(300)).is_some() {}
    assert_eq!(manager.told(Duration::from_millis(1_500)), None);
    daemon.signal("CONT");
    assert_eq!(manager.told_soon(), "WATCHDOG=1\n");

    manager.drain();
    assert!(daemon.end_with("TERM").success());
    let mut last = manager.told_soon();
    while last == "WATCHDOG=1\n" {
        last = manager.told_soon();
    }
    assert_eq!(last, "STOPPING=1\n");
    assert_eq!(
        manager.told(Duration::from_millis(1)),
        None,
        "the last word"
    );
}

#[test]
fn who_wants_no_watchdog_gets_none() {
    let node = Node::open("six");
    let (directory, floor) = daemon::file(&daemon::six_panels(&[node.address]));
    let socket = directory.path().join("notify");
    let manager = Manager::open(&socket);
    let daemon = Daemon::of(to_run(&floor, &socket, false));
    assert_eq!(manager.told_soon(), "READY=1\n");
    assert_eq!(manager.told(Duration::from_secs(1)), None);
    assert!(daemon.end_with("TERM").success());
    assert_eq!(manager.told_soon(), "STOPPING=1\n");
}

#[test]
fn a_service_manager_that_has_gone_is_no_reason_to_end() {
    let node = Node::open("six");
    let (directory, floor) = daemon::file(&daemon::six_panels(&[node.address]));
    let daemon = Daemon::of(to_run(&floor, &directory.path().join("nobody"), true));
    let uptime = |state: &serde_json::Value| state["uptime_s"].as_f64();
    daemon.until(PATIENCE, |state| uptime(state).filter(|s| *s > 1.0));
    assert!(daemon.end_with("TERM").success());
}
