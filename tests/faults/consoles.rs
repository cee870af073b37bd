//! Two consoles at one floor, a third that comes to them, and the first that dies.

use std::net::{Ipv4Addr, UdpSocket};
use std::time::{Duration, Instant};

use crate::daemon::{self, Console, Node, PATIENCE, SLOTS, UNIVERSES};
use crate::found;
use crate::player::{FRAME, Seen, ms};

/// The loopback has more addresses than one: each console has its own.
fn console(daemon: &daemon::Daemon, last: u8) -> Console {
    let socket = UdpSocket::bind((Ipv4Addr::new(127, 0, 0, last), 0)).unwrap();
    Console::through(socket, daemon.artnet)
}

#[test]
fn two_are_merged_a_third_is_ignored_and_one_that_dies_leaves_after_ten_seconds() {
    let node = Node::open("six");
    let (_directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    let daemon = daemon::run(&path);
    let [first, second, third] = [2, 3, 4].map(|last| console(&daemon, last));
    let universe = UNIVERSES[0];
    let mut seen = Seen::default();
    // Plays at a console's pace until the node holds what is expected, and never anything that is not allowed.
    let mut play = |levels: &[(&Console, [u8; SLOTS])], expected: [u8; SLOTS]| {
        let begun = Instant::now();
        loop {
            for (console, slots) in levels {
                console.dmx(universe, slots);
            }
            if let Some(bytes) = node.next(FRAME) {
                seen.take(&bytes, Instant::now());
                node.arrived
                    .try_iter()
                    .for_each(|bytes| seen.take(&bytes, Instant::now()));
            }
            if seen
                .held
                .get(&universe)
                .is_some_and(|slots| slots[..] == expected)
            {
                return begun.elapsed();
            }
            assert!(begun.elapsed() < PATIENCE, "{:?}", seen.held);
        }
    };
    let (mut left, mut right) = ([0; SLOTS], [0; SLOTS]);
    left[..30].fill(90);
    right[20..].fill(60);
    let mut both = right;
    both[..30].fill(90);
    play(&[(&first, left), (&second, right)], both);
    // The third is brighter than both, and is not shown.
    for _ in 0..5 {
        third.dmx(universe, &[255; SLOTS]);
    }
    let ignored = daemon.until(PATIENCE, |state| {
        let sources = state["universes"][0]["sources"].as_array().unwrap();
        let ignored = sources.iter().find(|source| source["ignored"] == true);
        ignored.map(|source| source["address"].as_str().unwrap().to_owned())
    });
    assert_eq!(ignored, "127.0.0.4");
    // Art-Net 4: a source that is silent leaves the merge after ten seconds.
    let took = play(&[(&second, right)], right);
    found(
        "two consoles; a third comes; the first dies",
        "highest level of each slot; the third is ignored and named",
        "nothing of the second",
        &format!(
            "the dead one's light was gone {} after its last frame (Art-Net: 10 s)",
            ms(took)
        ),
    );
    assert!((9.0..11.5).contains(&took.as_secs_f64()), "{took:?}");
    assert!(took < Duration::from_secs(12));
}
