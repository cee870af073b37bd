//! A simulated node that loses its power, for a while or for good.

use super::node::SimNode;
use crate::units::Time;

/// Whether a node has power.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Outage {
    /// Without power until then.
    until: Option<Time>,
    /// It is to lose it for so long, in milliseconds, as soon as its time goes on.
    soon_ms: Option<u64>,
}

impl SimNode {
    /// It loses its power and is back after so many milliseconds, as if it was just switched on:
    /// silent until then, dark until it is sent something.
    pub fn restarts(&mut self, now: Time, silent_ms: u64) {
        self.goes_off(now.plus_ms(silent_ms));
    }

    /// The same from the moment at which its time next goes on, for whoever has no clock.
    pub const fn restarts_soon(&mut self, silent_ms: u64) {
        self.outage.soon_ms = Some(silent_ms);
    }

    /// It is gone, until it [returns](Self::returns).
    pub fn vanishes(&mut self) {
        self.goes_off(Time(u64::MAX));
    }

    /// It is back, as if it was just switched on.
    pub const fn returns(&mut self) {
        (self.outage.until, self.outage.soon_ms) = (None, None);
    }

    /// Whether it has no power, or is about to lose it.
    pub const fn is_off(&self) -> bool {
        self.outage.until.is_some() || self.outage.soon_ms.is_some()
    }

    /// Whether it has power.
    pub(super) fn is_on(&self, now: Time) -> bool {
        self.outage.until.is_none_or(|until| now >= until)
    }

    /// What time brings.
    pub(super) fn settle_outage(&mut self, now: Time) {
        if self.outage.until.is_some_and(|until| now >= until) {
            self.outage.until = None;
        }
        if let Some(silent_ms) = self.outage.soon_ms.take() {
            self.restarts(now, silent_ms);
        }
    }

    fn goes_off(&mut self, until: Time) {
        for output in self.outputs.values_mut() {
            (output.held, output.waiting, output.sequence) = (None, None, 0);
        }
        (self.last_sync, self.last_sender, self.round) = (None, None, 0);
        self.outage.until = Some(until);
    }
}

#[cfg(test)]
mod tests {
    use std::net::{Ipv4Addr, SocketAddrV4};

    use artnet_protocol::{ArtCommand, Output as Sent};

    use super::*;
    use crate::sim::node::Character;
    use crate::wire::PortAddress;

    const CONSOLE: SocketAddrV4 = SocketAddrV4::new(Ipv4Addr::new(127, 0, 0, 9), 6454);
    const POLL: &[u8] = b"Art-Net\0\x00\x20\x00\x0e\x00\x00";

    fn node() -> SimNode {
        SimNode::new(Character {
            short_name: "sim".into(),
            long_name: "Simulated node".into(),
            address: SocketAddrV4::new(Ipv4Addr::LOCALHOST, 6454),
            outputs: vec![PortAddress::new(1).unwrap(), PortAddress::new(18).unwrap()],
            syncs: true,
            orders: true,
        })
    }

    fn send(node: &mut SimNode, s: u64, sequence: u8, level: u8) {
        let packet = Sent {
            sequence,
            port_address: 1_u16.try_into().unwrap(),
            data: vec![level, 0].into(),
            ..Sent::default()
        };
        let bytes = ArtCommand::Output(packet).write_to_buffer().unwrap();
        node.handle(Time::from_s(s), CONSOLE, &bytes);
    }

    fn first(node: &SimNode) -> Option<u8> {
        let held = node.held(PortAddress::new(1).unwrap());
        held.map(|slots| slots[0])
    }

    fn answers(node: &mut SimNode, s: u64) -> usize {
        node.handle(Time::from_s(s), CONSOLE, POLL).len()
    }

    #[test]
    fn a_node_that_restarts_is_silent_and_dark_and_then_as_new() {
        let mut node = node();
        send(&mut node, 1, 50, 9);
        assert_eq!((first(&node), answers(&mut node, 1)), (Some(9), 2));
        node.restarts(Time::from_s(2), 5_000);
        assert_eq!((first(&node), answers(&mut node, 3)), (None, 0));
        send(&mut node, 6, 51, 8);
        assert_eq!(first(&node), None);
        // Back: dark until it is sent something, and no number is old.
        assert_eq!((answers(&mut node, 7), first(&node)), (2, None));
        send(&mut node, 7, 40, 7);
        assert_eq!(first(&node), Some(7));
        node.vanishes();
        assert_eq!((first(&node), answers(&mut node, 90_000)), (None, 0));
        node.returns();
        assert_eq!((first(&node), answers(&mut node, 90_001)), (None, 2));
    }

    #[test]
    fn one_that_restarts_soon_does_so_when_its_time_goes_on() {
        let mut node = node();
        send(&mut node, 1, 50, 9);
        node.restarts_soon(5_000);
        assert_eq!((node.is_off(), first(&node)), (true, Some(9)));
        node.settle(Time::from_s(2));
        assert_eq!((node.is_off(), first(&node)), (true, None));
        assert_eq!(answers(&mut node, 6), 0);
        assert_eq!((answers(&mut node, 7), node.is_off()), (2, false));
        node.restarts_soon(5_000);
        node.returns();
        assert_eq!((node.is_off(), answers(&mut node, 8)), (false, 2));
    }
}
