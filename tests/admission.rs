//! Whom a running litfloor lets in, by `[network]` and `[[pin]]`, and how often it answers polls.

mod daemon;

use artnet_protocol::{ArtCommand, Poll};
use daemon::{Console, Node, PATIENCE, SLOTS, UNIVERSES};

/// How many datagrams so far came to this outcome.
fn count(state: &serde_json::Value, outcome: &str) -> u64 {
    state["datagrams"][outcome].as_u64().unwrap()
}

#[test]
fn who_is_not_let_in_changes_nothing_and_is_counted() {
    let node = Node::open("n0");
    let text = format!(
        "{}[network]\nsources = [\"10.9.8.0/24\"]\n",
        daemon::six_panels(&[node.address])
    );
    let (_files, path) = daemon::file(&text);
    let daemon = daemon::run(&path);
    let console = Console::open(daemon.artnet);
    for _ in 0..5 {
        console.dmx(UNIVERSES[0], &[200; SLOTS]);
        console.dmx(0x0777, &[200; SLOTS]);
    }
    console.send(ArtCommand::Poll(Poll::default()));
    daemon.until(PATIENCE, |state| {
        (count(state, "not_admitted") == 11).then_some(())
    });
    let state = daemon.json("/api/v1/state");
    assert_eq!(
        (
            count(&state, "taken"),
            count(&state, "unmapped"),
            count(&state, "poll")
        ),
        (0, 0, 0)
    );
    // The node answers polls although no network of it is named.
    daemon.until(PATIENCE, |state| {
        (state["nodes"][0]["online"] == true).then_some(())
    });
    // Nothing but dark ever left.
    for bytes in node.arrived.try_iter() {
        if let Ok(ArtCommand::Output(output)) = ArtCommand::from_buffer(&bytes) {
            assert!(output.data.as_ref().iter().all(|&level| level == 0));
        }
    }
}

#[test]
fn a_pinned_universe_has_one_source_and_the_others_are_free() {
    let node = Node::open("n0");
    let text = format!(
        "{}[[pin]]\nstart = \"0:0:1\"\nuniverses = 2\nsource = \"10.9.8.7\"\n",
        daemon::six_panels(&[node.address])
    );
    let (_files, path) = daemon::file(&text);
    let daemon = daemon::run(&path);
    let console = Console::open(daemon.artnet);
    for universe in UNIVERSES {
        console.dmx(universe, &[9; SLOTS]);
    }
    let state = daemon.until(PATIENCE, |state| {
        (count(state, "taken") == 4 && count(state, "pinned") == 2).then(|| state.clone())
    });
    assert_eq!(state["frames_refused"]["pinned"], 2);
}

#[test]
fn polls_without_end_are_answered_a_few_times() {
    let (_files, path) = daemon::file(&daemon::six_panels(&[daemon::free_udp_port()]));
    let daemon = daemon::run(&path);
    let console = Console::open(daemon.artnet);
    const POLLS: u64 = 500;
    for _ in 0..POLLS {
        console.send(ArtCommand::Poll(Poll::default()));
    }
    let (answered, held) = daemon.until(PATIENCE, |state| {
        let (answered, held) = (count(state, "poll"), count(state, "poll_held_back"));
        (answered + held == POLLS).then_some((answered, held))
    });
    println!("{answered} of {POLLS} polls answered, {held} held back");
    assert!(answered >= 4, "who polls a few times is answered");
    // Four at once, and one for each second that the sending took.
    assert!(answered < POLLS / 10, "{answered}");
}
