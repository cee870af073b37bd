//! SIGTERM.

use std::time::Instant;

use crate::daemon::{self, Node};
use crate::found;
use crate::player::{Playing, SOON, Seen, ms, until};

/// The nodes keep what they have, whatever the console does: nothing dark leaves with the end.
#[test]
fn whoever_is_told_to_end_leaves_the_floor_as_it_is() {
    let node = Node::open("six");
    let (_directory, path) = daemon::file(&daemon::six_panels(&[node.address]));
    let daemon = daemon::run(&path);
    let console = Playing::to(daemon.artnet, 0);
    let mut seen = Seen::default();
    until(&node, &mut seen, |seen| {
        seen.whole().is_some_and(|number| number > 20)
    });
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
