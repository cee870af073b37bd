//! A node that is switched off and on again while the picture stands still: it has forgotten all, and nobody
//! at the console does anything.

use std::time::{Duration, Instant};

use crate::daemon::{self, Console, Node, PATIENCE, UNIVERSES};
use crate::found;
use crate::player::{Seen, ms, picture, until};

#[test]
fn a_node_that_comes_back_shows_the_picture_when_it_is_sent_again() {
    let node = Node::open("six");
    let address = node.address;
    let (_directory, path) = daemon::file(&daemon::six_panels(&[address]));
    let daemon = daemon::run(&path);
    let console = Console::open(daemon.artnet);
    for universe in UNIVERSES {
        console.dmx(universe, &picture(1));
    }
    until(&node, &mut Seen::default(), |seen| seen.whole() == Some(1));
    drop(node);
    // Two seconds without it.
    let uptime = |state: &serde_json::Value| state["uptime_s"].as_f64().unwrap();
    let off = uptime(&daemon.json("/api/v1/state"));
    daemon.until(PATIENCE, |state| (uptime(state) > off + 2.0).then_some(()));

    let begun = Instant::now();
    let node = Node::at("six", address);
    until(&node, &mut Seen::default(), |seen| seen.whole() == Some(1));
    let took = begun.elapsed();
    daemon.until(PATIENCE, |state| {
        (state["nodes"][0]["online"] == true).then_some(())
    });
    found(
        "a node is off for two seconds, the picture stands still",
        "its frames are sent again every 0.9 s",
        "nothing: its picture is sent again",
        &format!("{} until it shows all six universes", ms(took)),
    );
    // What stands still is sent every 0.9 s; the rest is left for a machine that is busy.
    assert!(took <= Duration::from_millis(1_900), "{took:?}");
}
