//! What sensors say: JSON over HTTP, payloads from a broker.
//!
//! ```text
//! records: u8 kind · …
//!   0  a body of a request with the token:    u16 length · bytes
//!   1  a payload from the broker:             u8 sensor · u16 length · bytes
//!   2  a picture, so that something is drawn: u8 level
//!   3  time:                                  u8 tenths of a second
//! ```
#![no_main]

use axum::body::Body;
use axum::http::Request;
use libfuzzer_sys::fuzz_target;
use litfloor::cli::reading_of;
use litfloor::engine::command::Command;
use litfloor_fuzz::bytes::Bytes;
use litfloor_fuzz::daemon::{Daemon, TOKEN};
use litfloor_fuzz::world::CONSOLE;
use litfloor_fuzz::{MADE, http};

async fn body(daemon: &mut Daemon, body: &[u8]) {
    let request = Request::post("/api/v1/readings")
        .header("host", "10.0.0.2:8080")
        .header("authorization", format!("Bearer {TOKEN}"))
        .header("content-type", "application/json")
        .body(Body::from(body.to_vec()))
        .expect("a request");
    let router = daemon.router.clone();
    tokio::select! {
        status = http::ask(&router, request) => {
            assert!([202, 400, 413, 429].contains(&status.as_u16()), "{status}");
        }
        () = daemon.follow() => unreachable!("it follows for ever"),
    }
}

/// Whatever sensors say, no limit is passed (the witness looks), and what is told stays in bounds.
fn look(daemon: &Daemon) {
    let state = daemon.world.state();
    assert_eq!(state.sensors.len(), MADE.floor.sensors.len());
    let limits = [
        ("clamp", MADE.floor.supplies[0].rated_a.0),
        ("shunt", MADE.floor.feeds[0].fuse_a.0),
    ];
    for (name, rated) in limits {
        let sensor = state
            .sensors
            .iter()
            .find(|sensor| sensor.name == name)
            .expect("it is there");
        let kept = rated * MADE.floor.cap.margin;
        let live = sensor.live_limit_a.unwrap_or(0.0);
        assert!(
            (0.0..=kept * 1.000_001).contains(&live),
            "{name}: {live} A of {kept} A"
        );
    }
}

async fn all(data: &[u8]) {
    let mut daemon = Daemon::new(false);
    let mut bytes = Bytes(data);
    let mut sequence = 0;
    while bytes.more() {
        match bytes.u8() & 3 {
            0 => body(&mut daemon, bytes.piece()).await,
            1 => {
                let sensors = &MADE.floor.sensors;
                let sensor = &sensors[usize::from(bytes.u8()) % sensors.len()];
                let reading = reading_of(sensor, bytes.piece());
                daemon
                    .world
                    .command(Command::Readings(vec![reading]))
                    .expect("it is taken");
            }
            2 => {
                let level = bytes.u8();
                for universe in &MADE.tables.universes {
                    sequence = if sequence == 255 { 1 } else { sequence + 1 };
                    let number = universe.port_address.number();
                    daemon.world.dmx(CONSOLE, sequence, number, &[level; 512]);
                }
            }
            _ => daemon.world.passes(100 * u64::from(bytes.u8())),
        }
    }
    look(&daemon);
}

fuzz_target!(|data: &[u8]| litfloor_fuzz::in_no_time(all(data)));
