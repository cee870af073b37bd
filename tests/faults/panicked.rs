//! A panic of the data plane. None is known that can be provoked over the network, so a faulty kernel is
//! played for it: a library that is loaded before the C library, `faulty_kernel.c`.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

use crate::daemon::{self, Console, Daemon, Node, litfloor};
use crate::player::{Playing, SOON, Seen, ms, until};
use crate::{found, not_run};

/// What `faulty_kernel.c` looks for.
const FAULT: &[u8] = b"of this the kernel says something wrong";

/// Compiles the faulty kernel; nothing where there is no compiler.
fn faulty_kernel(directory: &Path) -> Option<PathBuf> {
    let library = directory.join("faulty_kernel.so");
    let source = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/faults/faulty_kernel.c");
    let compiled = Command::new("cc")
        .args(["-shared", "-fPIC", "-o"])
        .arg(&library)
        .arg(source)
        .arg("-ldl")
        .status();
    compiled
        .is_ok_and(|status| status.success())
        .then_some(library)
}

/// Neither 1 nor 2, after which the service is not started again (`RestartPreventExitStatus` of the unit);
/// the one that people run is aborted, as the next test says.
#[test]
fn a_panic_of_the_data_plane_ends_the_process_and_it_is_started_again() {
    let node = Node::open("six");
    let (directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    let Some(kernel) = faulty_kernel(directory.path()) else {
        return not_run("a panic of the data plane", "there is no C compiler `cc`");
    };
    let artnet = daemon::free_udp_port().to_string();
    let start = |preload: Option<&Path>| {
        let mut command = litfloor(&["run", &path, "--artnet", &artnet, "--http", "127.0.0.1:0"]);
        command.arg("--state").arg(directory.path().join("state"));
        if let Some(library) = preload {
            command.env("LD_PRELOAD", library);
        }
        Daemon::of(command)
    };
    let daemon = start(Some(&kernel));
    let console = Playing::to(daemon.artnet, 0);
    let mut seen = Seen::default();
    until(&node, &mut seen, |seen| {
        seen.whole().is_some_and(|number| number > 20)
    });

    let begun = Instant::now();
    Console::open(daemon.artnet).raw(FAULT);
    let status = daemon.ends();
    let ended = begun.elapsed();
    assert!(
        !matches!(status.code(), Some(0..=2)),
        "the service would not be started again: {status}"
    );
    let before = console.newest();
    let daemon = start(None);
    let lit = until(&node, &mut seen, |seen| {
        seen.whole().is_some_and(|number| number > before)
    });
    daemon.until_well();
    found(
        "a panic of the data plane",
        &format!("the process ended: {status}; started again"),
        "what was sent meanwhile",
        &format!(
            "{} until it had ended, {} after the start",
            ms(ended),
            ms(lit)
        ),
    );
    assert!(ended <= 5 * SOON, "{ended:?}");
    assert!(lit <= SOON, "{lit:?}");
}

/// What makes of any panic the end of the process that people run is the profile that it is built with.
#[test]
fn a_panic_ends_the_process_that_people_run() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/Cargo.toml");
    let manifest: toml_edit::DocumentMut = std::fs::read_to_string(path).unwrap().parse().unwrap();
    assert_eq!(
        manifest["profile"]["release"]["panic"].as_str(),
        Some("abort")
    );
}
