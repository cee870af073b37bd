//! `litfloor run` between a console and a node, over real UDP on the loopback.

mod daemon;

use std::collections::BTreeMap;
use std::time::Duration;

use artnet_protocol::ArtCommand;
use daemon::{Console, LIMIT_A, Node, PATIENCE, SLOTS, UNIVERSES, panel_a};

/// A console's pace: a little faster than DMX512-A allows (44.1 frames a second at most).
const FRAME: Duration = Duration::from_millis(20);

/// What a node holds of every universe, and the most that the whole floor ever drew.
#[derive(Default)]
struct Held {
    slots: BTreeMap<u16, Vec<u8>>,
    highest_a: f64,
    frames: u64,
}

impl Held {
    /// Takes one datagram and sums the floor up, as the node stands now: it must not be over.
    fn take(&mut self, bytes: &[u8]) {
        if let Ok(ArtCommand::Output(output)) = ArtCommand::from_buffer(bytes) {
            self.slots
                .insert(output.port_address.into(), output.data.as_ref().clone());
            self.frames += 1;
            let draw_a = self.draw_a();
            assert!(
                draw_a <= LIMIT_A,
                "{draw_a} A of {LIMIT_A} A: {:?}",
                self.slots
            );
            self.highest_a = self.highest_a.max(draw_a);
        }
    }

    fn draw_a(&self) -> f64 {
        let dark = 0.02;
        UNIVERSES
            .iter()
            .map(|universe| {
                self.slots
                    .get(universe)
                    .map_or(dark, |slots| panel_a(slots))
            })
            .sum()
    }
}

/// Plays a picture at a console's pace until the node is content with what it holds.
fn play(
    console: &Console,
    node: &Node,
    held: &mut Held,
    picture: impl Fn(u16) -> [u8; SLOTS],
    content: impl Fn(&Held) -> bool,
) {
    #[expect(clippy::disallowed_methods, reason = "a deadline")]
    let deadline = std::time::Instant::now() + PATIENCE;
    while !content(held) {
        for universe in UNIVERSES {
            console.dmx(universe, &picture(universe));
        }
        if let Some(bytes) = node.next(FRAME) {
            held.take(&bytes);
            node.arrived.try_iter().for_each(|bytes| held.take(&bytes));
        }
        #[expect(clippy::disallowed_methods, reason = "a deadline")]
        let now = std::time::Instant::now();
        assert!(
            now < deadline,
            "never came; the node holds {:?}",
            held.slots
        );
    }
}

#[test]
fn what_fits_arrives_as_sent_and_what_does_not_is_capped_at_every_instant() {
    let node = Node::open("six");
    let (_directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    let daemon = daemon::run(&path);
    let console = Console::open(daemon.artnet);
    let mut held = Held::default();

    // Six panels at 128 draw 6 · (0.02 + 1.2 · 128 / 255) = 3.734 A: under 4 A, so nothing dims.
    let fits =
        |universe: u16| [u8::try_from(universe & 0x7F).unwrap(); SLOTS].map(|low| 96 + low % 32);
    let as_sent = |held: &Held| {
        UNIVERSES.iter().all(|&universe| {
            held.slots
                .get(&universe)
                .is_some_and(|s| s[..] == fits(universe))
        })
    };
    play(&console, &node, &mut held, fits, as_sent);
    let expected_a: f64 = UNIVERSES.iter().map(|&u| panel_a(&fits(u))).sum();
    daemon.until(PATIENCE, |state| {
        let supply = &state["supplies"][0];
        let as_computed = |key: &str| (supply[key].as_f64().unwrap() - expected_a).abs() < 1e-3;
        (supply["scale"] == 1.0 && as_computed("draw_a") && as_computed("asked_a")).then_some(())
    });

    // Full white would draw 7.32 A. It must come out just under 4 A, and no datagram on the way
    // there may take the floor over, whichever universes have arrived and whichever have not.
    let near_limit = |held: &Held| {
        let white = |slots: &Vec<u8>| slots.iter().all(|level| (130..=137).contains(level));
        held.slots.values().all(white) && held.draw_a() > 0.97 * LIMIT_A
    };
    play(&console, &node, &mut held, |_| [255; SLOTS], near_limit);
    // Down and up again: the hardest moment is a rise while the others still shine.
    for round in 0..4 {
        let half = |universe: u16| [if universe % 2 == round % 2 { 255 } else { 0 }; SLOTS];
        let there = |held: &Held| {
            UNIVERSES
                .iter()
                .all(|u| (held.slots[u][0] > 200) == (u % 2 == round % 2))
        };
        play(&console, &node, &mut held, half, there);
    }
    play(&console, &node, &mut held, |_| [255; SLOTS], near_limit);
    // (4 − 0.12) / 7.2 = 0.5389 of the light fits; the factor may be a little lower on its way up.
    let scale = daemon.until(PATIENCE, |state| {
        let supply = &state["supplies"][0];
        let scale = supply["scale"].as_f64().unwrap();
        let asked = (supply["asked_a"].as_f64().unwrap() - 7.32).abs() < 1e-3;
        (asked && (0.5..=0.539).contains(&scale)).then_some(scale)
    });
    println!(
        "{} frames, at most {:.4} A of {LIMIT_A} A, scale {scale:.4}",
        held.frames, held.highest_a
    );
    assert!(daemon.end_with("INT").success());
}

#[test]
fn garbage_and_strangers_are_counted_and_change_nothing() {
    let node = Node::open("six");
    let (_directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    let daemon = daemon::run(&path);
    let console = Console::open(daemon.artnet);
    console.dmx(0x7FFF, &[255; 512]);
    console.dmx(UNIVERSES[0], &[7; SLOTS]);
    console.raw(b"not Art-Net at all");
    daemon.until(PATIENCE, |state| {
        let refused = &state["frames_refused"];
        (refused["unmapped"] == 1
            && state["datagrams"]["not_artnet"] == 1
            && state["frames_in"] == 1)
            .then_some(())
    });
    let stranger = daemon.json("/api/v1/state");
    let unmapped: Vec<_> = stranger["universes"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|universe| universe["mapped"] == false)
        .map(|universe| universe["port_address"].as_str().unwrap())
        .collect();
    assert_eq!(unmapped, ["127:15:15"]);
    assert!(daemon.end_with("TERM").success());
}
