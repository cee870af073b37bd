//! What the system did not take counts for nothing: a node may still be showing what it got before.

#[path = "support/wide.rs"]
mod wide;

use std::net::SocketAddrV4;

use litfloor::engine::Engine;
use litfloor::engine::out::{Datagram, Outlet};
use litfloor::units::Time;
use litfloor::wire::PortAddress;
use litfloor::wire::dmx::{self, LARGEST};

/// Notes where datagrams went, and takes all of them.
#[derive(Default)]
struct Gathered(Vec<SocketAddrV4>);

impl Outlet for Gathered {
    fn send(&mut self, datagram: Datagram<'_>) -> bool {
        self.0.push(datagram.to());
        true
    }
}

struct Stage {
    engine: Engine,
    outlet: Gathered,
    now_ms: u64,
}

impl Stage {
    fn new() -> Self {
        Self {
            engine: wide::engine(2, 1.1),
            outlet: Gathered::default(),
            now_ms: 0,
        }
    }

    /// A second of frames of this level for every universe; the system takes those to the nodes for
    /// which `takes` says so.
    fn second(&mut self, level: u8, takes: impl Fn(SocketAddrV4) -> bool) {
        for _ in 0..40 {
            self.now_ms += 25;
            let now = Time::from_ms(self.now_ms);
            for universe in 0..32 {
                let mut buffer = [0; LARGEST];
                let address = PortAddress::new(universe).unwrap();
                let bytes = dmx::write(&mut buffer, 0, 0, address, &[level; 512]);
                self.engine
                    .handle(now, wide::CONSOLE, bytes, &mut self.outlet);
            }
            self.engine.tick(now, &mut self.outlet);
            for to in self.outlet.0.drain(..) {
                if !takes(to) {
                    self.engine.refused(to, now);
                }
            }
        }
    }

    /// Amperes that the feeds of the first and the second row of panels may carry, without idle.
    fn reserved_a(&self) -> [f64; 2] {
        let state = self.engine.state(Time::from_ms(self.now_ms));
        let of = |feeds: std::ops::Range<usize>| {
            let feeds = state.feeds[feeds].iter();
            feeds.map(|feed| feed.reserved_a - feed.idle_a).sum()
        };
        [of(0..4), of(4..8)]
    }
}

/// Sixteen panels of 170 pixels with three colours of 20 mA: common catalogue values.
const FULL_A: f64 = 16.0 * 170.0 * 3.0 * 0.02;

fn assert_near(seen: f64, expected: f64) {
    assert!((seen - expected).abs() < 1e-6, "{seen} A, not {expected} A");
}

#[test]
fn a_node_that_gets_nothing_is_reckoned_with_as_bright_as_it_was() {
    let mut stage = Stage::new();
    stage.second(255, |_| true);
    assert_near(stage.reserved_a()[0], FULL_A);
    let second = stage.engine.state(Time::from_ms(stage.now_ms)).nodes[1]
        .address
        .parse()
        .unwrap();
    stage.second(0, |to| to != second);
    let [reached, cut_off] = stage.reserved_a();
    assert_near(reached, 0.0);
    assert_near(cut_off, FULL_A);
    let state = stage.engine.state(Time::from_ms(stage.now_ms));
    assert_eq!(state.nodes[0].send_errors, 0);
    assert!(state.nodes[1].send_errors > 0);
    // The cable is in again.
    stage.second(0, |_| true);
    assert_near(stage.reserved_a()[1], 0.0);
}
