//! litfloor with a console and nodes around it, for browsers that look at it: played until nobody
//! listens any more.

use std::io::{self, Read, Write};
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use serde_json::Value;

use super::USUAL;
use super::console::BATCH;
use super::floor::Floor;
use super::load::Rig;
use super::place::{Place, Who};

/// 100,640 pixels.
const UNIVERSES: u32 = 592;

/// Plays so often a second, so many of a hundred universes moving, and says where it is watched. Ends
/// with standard input, so that nothing is left when whoever started it is gone.
pub(crate) fn play(
    litfloor: Option<PathBuf>,
    moving: usize,
    glide: bool,
    hertz: f64,
) -> io::Result<()> {
    static ENDED: AtomicBool = AtomicBool::new(false);
    let place = Place::new(litfloor)?;
    let mut rig = Rig::new(UNIVERSES, USUAL, false)?;
    let forwarder = place.start(Who::Litfloor, Floor::of(UNIVERSES), rig.sink.port()?)?;
    rig.settle(&forwarder)?;
    rig.console.moving = moving;
    if glide {
        rig.console.glide();
    }
    let http = forwarder
        .http
        .ok_or_else(|| io::Error::other("it serves nothing"))?;
    println!("{} http://{http}", forwarder.id());
    io::stdout().flush()?;
    std::thread::spawn(|| {
        // An end by an error is one, too.
        let _ = io::stdin().read(&mut [0]);
        ENDED.store(true, Ordering::Relaxed);
    });
    let universes = rig.console.universes();
    let mut next = Instant::now();
    while !ENDED.load(Ordering::Relaxed) {
        let mut universe = 0;
        while universe < universes {
            universe += rig.console.send(universe, BATCH)?;
        }
        next += Duration::from_secs_f64(1.0 / hertz);
        rig.idle_until(next)?;
    }
    Ok(())
}

/// One look of a real browser, for each content and each size of the page: what
/// `web/bench/floor.mjs` has found, which starts [`play`].
pub(crate) fn look(place: &Place, span: Duration) -> io::Result<Vec<Value>> {
    let output = Command::new("node")
        .arg("web/bench/floor.mjs")
        .env("ROUNDS", "1")
        .env("SECONDS", span.as_secs().to_string())
        .env("WIRE_BENCH", std::env::current_exe()?)
        .env("LITFLOOR", place.litfloor())
        .stdin(Stdio::null())
        .stderr(Stdio::inherit())
        .output()
        .map_err(|error| io::Error::other(format!("node: {error}")))?;
    if !output.status.success() {
        let text = "web/bench/floor.mjs failed; it needs `npm ci` in web/ and Chromium";
        return Err(io::Error::other(text));
    }
    serde_json::from_slice(&output.stdout).map_err(io::Error::other)
}
