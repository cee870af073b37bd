//! Forged polls, meant to keep the console from its answers: as long as its picture is taken it gets them.

mod support;

use std::net::{Ipv4Addr, SocketAddrV4};

use litfloor::engine::tally::Outcome;
use support::stage::{A, Stage, dmx, floor};

/// 14 bytes are enough (Art-Net 4).
const POLL: &[u8] = b"Art-Net\0\x00\x20\x00\x0e\x00\x00";

/// Time between two polls of a controller: 2.5 to 3 s (Art-Net 4).
const POLLS_EVERY_MS: u64 = 2_500;

const CONSOLE: SocketAddrV4 = SocketAddrV4::new(A, 6454);

/// A console at work for `ms`, and what else comes in each millisecond; says how many of its polls were
/// answered, and how many were not.
fn plays(stage: &mut Stage, ms: u64, mut attack: impl FnMut(&mut Stage, u64)) -> (u64, u64) {
    let (mut answered, mut starved) = (0, 0);
    for at in 0..ms {
        if at % 25 == 0 {
            stage.console(A, &dmx(0, 1, &[u8::try_from(at / 25 % 256).unwrap(); 6]));
        }
        attack(stage, at);
        if at > 0 && at % POLLS_EVERY_MS == 0 {
            match stage.arrives(CONSOLE, POLL) {
                Outcome::Poll => answered += 1,
                _ => starved += 1,
            }
        }
        stage.pass(1);
        stage.left.clear();
    }
    (answered, starved)
}

fn forged(base: [u8; 4], at: u64) -> SocketAddrV4 {
    let address = u32::from(Ipv4Addr::from(base)) + u32::try_from(at).unwrap();
    SocketAddrV4::new(address.into(), 6454)
}

#[test]
fn polls_forged_from_another_port_of_the_console_leave_it_its_answers() {
    let mut stage = Stage::usual("");
    let (mut polls, mut replies) = (0_u64, 0_u64);
    let seen = plays(&mut stage, 60_000, |stage, at| {
        let port = u16::try_from(1_024 + at).unwrap();
        let from = SocketAddrV4::new(A, if port == 6454 { 1 } else { port });
        polls += 1;
        replies += u64::from(stage.arrives(from, POLL) == Outcome::Poll);
    });
    assert_eq!(seen, (23, 0));
    // All other ports together have one right: 4 at once and one a second.
    assert_eq!((polls, replies), (60_000, 4 + 59));
}

#[test]
fn forged_addresses_that_poll_again_and_again_leave_the_console_its_answers() {
    let mut stage = Stage::usual("");
    let (mut polls, mut replies) = (0_u64, 0_u64);
    let seen = plays(&mut stage, 60_000, |stage, at| {
        let mut poll = |from| {
            polls += 1;
            replies += u64::from(stage.arrives(from, POLL) == Outcome::Poll);
        };
        // 62 that poll every 1.1 s, so that they count as known …
        let turn = at % 1_100;
        if turn < 62 {
            poll(forged([10, 77, 0, 1], turn));
        }
        // … and 170 polls a second from 200 others.
        if at * 17 / 100 != (at + 1) * 17 / 100 {
            poll(forged([10, 78, 0, 1], at * 17 / 100 % 200));
        }
    });
    assert_eq!(seen, (23, 0));
    assert!(polls > 13_000, "{polls}");
    // Two rights of 20 at once and ten a second.
    assert!(replies <= 2 * (20 + 600), "{replies}");
}

/// Before it has sent a picture, a console that the file names as the source of one is not starved either: not
/// by forged polls, nor by pictures that are forged from as many addresses as can be favoured.
#[test]
fn a_console_that_is_pinned_is_answered_before_it_sends() {
    let pin = "[[pin]]\nstart = \"0:0:1\"\nuniverses = 1\nsource = \"10.9.0.1\"\n";
    // Two sources of a universe are taken.
    let universes: Vec<String> = (1..=9).map(|universe| format!("0:0:{universe}")).collect();
    let runs: Vec<(u8, &str)> = universes.iter().map(|at| (1, at.as_str())).collect();
    let mut stage = Stage::new(&format!("{}{pin}", floor(&runs, 20.0, "")));
    for at in 0..60_000 {
        stage.arrives(forged([10, 77, 0, 1], at % 62), POLL);
        if at % 100 < 16 {
            let source = *forged([10, 79, 0, 1], at % 100).ip();
            let universe = u16::try_from(2 + at % 100 / 2).unwrap();
            assert_eq!(
                stage.console(source, &dmx(0, universe, &[9; 6])),
                Outcome::Taken
            );
        }
        // They have taken all places before it polls.
        if at % POLLS_EVERY_MS == 50 {
            assert_eq!(stage.arrives(CONSOLE, POLL), Outcome::Poll, "at {at} ms");
        }
        stage.pass(1);
        stage.left.clear();
    }
}

/// A poll that asks for nothing that is here uses nobody's right up: whoever forged it would starve another
/// without a single answer.
#[test]
fn polls_for_what_is_not_here_use_nothing_up() {
    let mut stage = Stage::usual("");
    // Targeted (flag 0x20): Port-Addresses 0x600 to 0x7FFF, and 0 alone; top first (Art-Net 4).
    let elsewhere: [&[u8]; 2] = [
        b"Art-Net\0\x00\x20\x00\x0e\x20\x00\x7f\xff\x06\x00",
        b"Art-Net\0\x00\x20\x00\x0e\x20\x00\x00\x00\x00\x00",
    ];
    let seen = plays(&mut stage, 20_000, |stage, at| {
        let poll = elsewhere[usize::from(at % 2 == 0)];
        assert_eq!(stage.arrives(CONSOLE, poll), Outcome::Poll);
    });
    assert_eq!(seen, (7, 0));
}
