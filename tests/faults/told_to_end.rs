//! SIGTERM: what the floor shows afterwards, by `when_ended` of the floor file.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use artnet_protocol::ArtCommand;

use crate::daemon::{self, Daemon, Node, UNIVERSES};
use crate::found;
use crate::player::{FRAME, Playing, SOON, Seen, ms, until};

/// A console whose pictures have come to the node for a while, and what it has seen.
fn well_on(node: &Node, daemon: &Daemon) -> (Playing, Seen) {
    let console = Playing::to(daemon.artnet, 0);
    let mut seen = Seen::default();
    until(node, &mut seen, |seen| {
        seen.whole().is_some_and(|number| number > 20)
    });
    (console, seen)
}

/// The nodes keep what they have, whatever the console does: nothing dark leaves with the end.
#[test]
fn whoever_is_told_to_end_leaves_the_floor_as_it_is() {
    let node = Node::open("six");
    let (_directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    let daemon = daemon::run(&path);
    let (console, mut seen) = well_on(&node, &daemon);
    let begun = Instant::now();
    assert!(daemon.end_with("TERM").success());
    let took = begun.elapsed();
    let last = console.end();
    node.arrived
        .try_iter()
        .for_each(|bytes| seen.take(&bytes, Instant::now()));
    // Of the picture during which it ended some universes may have left; none is dark, none is anything else.
    for (universe, slots) in &seen.held {
        let number = crate::player::number(slots);
        assert!(
            number.is_some_and(|number| number <= last),
            "{universe}: {slots:?}"
        );
    }
    found(
        "SIGTERM",
        "ended with 0; the nodes hold the last picture",
        "nothing",
        &format!("ended after {}", ms(took)),
    );
    assert!(took <= 5 * SOON, "{took:?}");
}

/// Whatever the console goes on sending, and whatever gets lost: one of ten in a row arrives, within 0.2 s (the
/// bounds of `[delivery]`).
#[test]
fn whoever_is_told_to_leave_a_dark_floor_makes_it_dark_and_says_so() {
    let node = Node::open("six");
    let text = daemon::six_panels(&[node.address]) + "[signal]\nwhen_ended = \"dark\"\n";
    let (_directory, path) = daemon::file(&text);
    let daemon = daemon::run(&path);
    let (console, _) = well_on(&node, &daemon);
    let begun = Instant::now();
    // By universe: when black frames came since the last that was not.
    let mut black: BTreeMap<u16, Vec<Instant>> = BTreeMap::new();
    let mut take = |bytes: &[u8]| {
        if let Ok(ArtCommand::Output(output)) = ArtCommand::from_buffer(bytes) {
            let since = black.entry(output.port_address.into()).or_default();
            if output.data.as_ref().iter().all(|level| *level == 0) {
                since.push(Instant::now());
            } else {
                since.clear();
            }
        }
    };
    let (status, said) = std::thread::scope(|scope| {
        let ends = scope.spawn(|| daemon.end_told_with("TERM"));
        while !ends.is_finished() {
            node.next(FRAME).iter().for_each(|bytes| take(bytes));
        }
        ends.join().unwrap()
    });
    let took = begun.elapsed();
    node.arrived.try_iter().for_each(|bytes| take(&bytes));
    drop(console);
    assert!(status.success());
    let last = said.last().unwrap();
    assert!(last.contains("The floor was sent black"), "{said:?}");
    for universe in UNIVERSES {
        let times = &black[&universe];
        let over = times[times.len() - 1] - times[0];
        println!("{universe}: {} black frames over {}", times.len(), ms(over));
        let late = times
            .iter()
            .filter(|at| **at - times[0] >= Duration::from_millis(200));
        assert!(late.count() >= 10, "{universe}: {times:?}");
    }
    found(
        "SIGTERM with when_ended = \"dark\"",
        "every universe was black at the last, ten times and more",
        "nothing",
        &format!("ended after {}", ms(took)),
    );
    assert!(took <= 5 * SOON, "{took:?}");
}
