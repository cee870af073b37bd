//! Trouble, one kind at a time, while the console plays.

use std::net::Ipv4Addr;

use artnet_protocol::{ArtCommand, Poll, PollReply};
use litfloor::wire::PortAddress;

use super::stage::{Stage, bind, dmx};

/// How a source that was heard leaves again (Art-Net 4), and a little more.
const SOURCE_LEAVES_MS: u64 = 10_500;

type Fault = (&'static str, fn(&mut Stage));

const FAULTS: [Fault; 15] = [
    ("datagrams to nodes get lost", lose),
    ("frames are overtaken", overtake),
    ("nonsense", nonsense),
    ("unmapped universes", unmapped),
    ("a flood of polls from everywhere", polls),
    ("a flood of forged poll replies", replies),
    ("a node restarts", restart),
    ("the console falls silent", silence),
    ("the file is read again", reread),
    ("a broken file is read", broken),
    ("a pattern", pattern),
    ("the whole floor is turned down", turned_down),
    ("browsers come and go", browsers),
    ("browsers get stuck", stuck),
    ("a note for the book", note),
];

/// Once in a while, for they take long.
const RARE: [Fault; 2] = [
    ("a second and a third console", consoles),
    ("the process is stopped for a moment", stopped),
];

/// All that takes memory, as much of it as may come at one time.
pub(crate) fn use_all(stage: &mut Stage) {
    for _ in 0..4 {
        crowd(stage, 50);
        browsers(stage);
        reread(stage);
        stage.reconcile();
    }
}

/// Makes one, and plays on for a while.
pub(crate) fn make_one(stage: &mut Stage, kills: bool) {
    let dice = stage.chance.up_to(99);
    let (name, make) = if kills && dice < 8 {
        ("kill -9", Stage::kill_and_start as fn(&mut Stage))
    } else if dice < 14 {
        RARE[usize::try_from(dice % 2).unwrap_or(0)]
    } else {
        let which = stage.chance.up_to(FAULTS.len() as u64 - 1);
        FAULTS[usize::try_from(which).unwrap_or(0)]
    };
    *stage.seen.faults.entry(name).or_default() += 1;
    make(stage);
    let frames = 20 + stage.chance.up_to(60);
    stage.play(frames);
}

fn lose(stage: &mut Stage) {
    stage.loss = 0.1 + 0.5 * stage.chance.share();
    stage.play(80);
    stage.loss = 0.0;
}

fn overtake(stage: &mut Stage) {
    for _ in 0..30 {
        stage.paint();
        stage.burst();
        let last = stage.universes.len() as u64 - 1;
        let at = usize::try_from(stage.chance.up_to(last)).unwrap_or(0);
        let universe = &stage.universes[at];
        // The one before the newest comes after it.
        let before = (universe.sequence + 253) % 255 + 1;
        let bytes = dmx(universe.address, before, &[99; 512]);
        stage.send(&bytes, "old_sequence");
        stage.wait_frame();
    }
}

fn nonsense(stage: &mut Stage) {
    let header = |opcode: u16, version: u8| {
        let mut bytes = b"Art-Net\0".to_vec();
        bytes.extend(opcode.to_le_bytes());
        bytes.extend([0, version]);
        bytes
    };
    for _ in 0..20 {
        let length = stage.chance.up_to(900);
        let noise: Vec<u8> = (0..length)
            .map(|_| stage.chance.bits().to_le_bytes()[0])
            .collect();
        // One in 2^64 begins with "Art-Net".
        stage.send(&noise, "not_artnet");
        stage.send(&header(0x1234, 14), "unknown_opcode");
        stage.send(&header(0x5000, 13), "bad_version");
        stage.send(b"Art-Net\0\0", "truncated");
        stage.send(
            &[header(0x5000, 14), vec![0, 0, 1, 0, 0, 0, 7]].concat(),
            "bad_length",
        );
        stage.send(
            &[header(0x5000, 14), vec![0, 0, 1, 0x80, 0, 2, 7, 7]].concat(),
            "bad_address",
        );
        stage.send(&header(0x9700, 14), "passed_over");
        stage.play(1);
    }
}

fn unmapped(stage: &mut Stage) {
    for number in 0..200_u16 {
        let Some(address) = PortAddress::new(0x4000 + number) else {
            continue;
        };
        stage.send(&dmx(address, 0, &[255; 512]), "unmapped");
        if number % 10 == 0 {
            stage.play(1);
        }
    }
}

/// Sends a datagram from an address of its own, somewhere in 127/8.
fn from_anywhere(stage: &mut Stage, bytes: &[u8], outcome: &'static str) {
    let [a, b, c, ..] = stage.chance.bits().to_le_bytes();
    // Not where a console is.
    let from = Ipv4Addr::new(127, a | 1, b, c.clamp(1, 254));
    if let Ok(socket) = std::net::UdpSocket::bind((from, 0))
        && socket.send_to(bytes, stage.daemon.artnet).is_ok()
    {
        stage.sent.count(outcome);
    }
}

fn polls(stage: &mut Stage) {
    let bytes = ArtCommand::Poll(Poll::default())
        .write_to_buffer()
        .expect("a poll");
    for _ in 0..20 {
        for _ in 0..30 {
            from_anywhere(stage, &bytes, "poll");
        }
        stage.play(1);
    }
}

fn replies(stage: &mut Stage) {
    let mut reply = PollReply::default();
    reply.short_name[..6].copy_from_slice(b"forged");
    let bytes = ArtCommand::PollReply(Box::new(reply))
        .write_to_buffer()
        .expect("a reply");
    for _ in 0..20 {
        for _ in 0..30 {
            from_anywhere(stage, &bytes, "poll_reply");
        }
        stage.play(1);
    }
}

fn restart(stage: &mut Stage) {
    let at = usize::from(stage.chance.share() < 0.5);
    let silent_ms = 500 + stage.chance.up_to(4_000);
    let now = stage.clock.now();
    stage.nodes[at].restarts(now, silent_ms);
    stage.play(silent_ms / 25 + 8);
}

fn silence(stage: &mut Stage) {
    let until = stage.clock.now().plus_ms(1_000 + stage.chance.up_to(4_000));
    while stage.clock.now() < until {
        stage.wait_frame();
    }
}

fn reread(stage: &mut Stage) {
    let margin = 0.6 + 0.05 * f64::from(u8::try_from(stage.chance.up_to(4)).unwrap_or(0));
    let text = stage
        .text
        .replace("margin = 0.8", &format!("margin = {margin:.2}"));
    if !stage.reload(&text) {
        stage
            .seen
            .amiss
            .push("a sound floor file was not taken".to_owned());
    }
    stage.play(40);
}

fn broken(stage: &mut Stage) {
    let whole = stage.text.len() as u64;
    let end = usize::try_from(stage.chance.up_to(whole / 2)).unwrap_or(0);
    let cut: String = stage.text.chars().take(end).collect();
    if stage.reload(&cut) {
        stage
            .seen
            .amiss
            .push("half a floor file was taken".to_owned());
    }
}

fn pattern(stage: &mut Stage) {
    let order = r#"{"pattern": {"kind": "colours"}, "level": 200, "lasts_s": 2}"#;
    stage.daemon.ask("POST", "/api/v1/pattern", order);
    stage.play(60);
}

fn turned_down(stage: &mut Stage) {
    for floor_va in ["100", "300", "null"] {
        let wish = format!("{{\"floor_va\": {floor_va}}}");
        stage.daemon.ask("PUT", "/api/v1/limit", &wish);
        stage.play(20);
    }
}

fn browsers(stage: &mut Stage) {
    let count = 1 + stage.chance.up_to(19);
    for _ in 0..count {
        let messages = 1 + stage.chance.up_to(60);
        stage.people.look(stage.daemon.http, messages);
    }
    for path in [
        "/",
        "/api/v1/floor",
        "/api/v1/state",
        "/metrics",
        "/api/v1/nowhere",
    ] {
        stage.daemon.ask("GET", path, "");
    }
}

fn stuck(stage: &mut Stage) {
    let count = 1 + stage.chance.up_to(49);
    crowd(stage, count);
}

/// So many browsers that get stuck.
fn crowd(stage: &mut Stage, count: u64) {
    for at in 0..count {
        if at % 3 == 0 {
            stage.people.stop_short(stage.daemon.http);
        } else {
            stage.people.get_stuck(stage.daemon.http);
        }
        if at % 10 == 0 {
            stage.play(1);
        }
    }
    stage.play(80);
}

fn note(stage: &mut Stage) {
    let text = format!(
        r#"{{"text": "soak note {}", "who": "Ida"}}"#,
        stage.seen.noted + 1
    );
    let answer = stage
        .daemon
        .ask("POST", "/api/v1/book/panels/LY-0001/notes", &text);
    if answer.is_some_and(|(status, _)| status == 200) {
        stage.seen.noted += 1;
    } else {
        stage.seen.amiss.push("a note was not taken".to_owned());
    }
}

/// Two are merged, and a third is not listened to.
fn consoles(stage: &mut Stage) {
    let second = bind(2);
    let third = bind(3);
    for _ in 0..20 {
        stage.play(1);
        for at in 0..stage.universes.len() {
            let universe = &stage.universes[at];
            let bytes = dmx(universe.address, 0, &[0; 512]);
            for (socket, outcome) in [(&second, "taken"), (&third, "third_source")] {
                socket
                    .send_to(&bytes, stage.daemon.artnet)
                    .expect("loopback");
                stage.sent.count(outcome);
            }
        }
    }
    stage.joined_until = stage.clock.now().plus_ms(SOURCE_LEAVES_MS);
    // The first must not be taken for the third: it goes on without a pause.
    while stage.clock.now() < stage.joined_until {
        stage.play(1);
    }
}

fn stopped(stage: &mut Stage) {
    stage.daemon.signal("STOP");
    let frames = 2 + stage.chance.up_to(10);
    stage.play(frames);
    stage.daemon.signal("CONT");
}
