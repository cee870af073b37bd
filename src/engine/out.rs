//! What leaves: datagrams, each with its destination.
//!
//! Only this module makes a [`Datagram`], and a picture only from a
//! [`CappedFrame`].

use std::net::SocketAddrV4;

use crate::power::cap::CappedFrame;
use crate::wire::{PortAddress, dmx, poll, sync};

/// One datagram that should leave.
#[derive(Debug, Clone, Copy)]
pub struct Datagram<'a> {
    to: SocketAddrV4,
    /// What is written for it, and what is sent as it lies elsewhere.
    parts: [&'a [u8]; 2],
}

impl<'a> Datagram<'a> {
    /// Where it goes.
    pub const fn to(&self) -> SocketAddrV4 {
        self.to
    }

    /// Its bytes, in two parts that follow each other.
    pub const fn parts(&self) -> [&'a [u8]; 2] {
        self.parts
    }

    /// Its bytes in one piece.
    pub fn to_vec(&self) -> Vec<u8> {
        self.parts.concat()
    }

    /// A datagram that is written as a whole.
    const fn whole(to: SocketAddrV4, bytes: &'a [u8]) -> Self {
        let parts = [bytes, &[]];
        Self { to, parts }
    }
}

/// Whoever sends datagrams: a socket, or a test.
pub trait Outlet {
    /// Sends it; false when the system did not take it.
    fn send(&mut self, datagram: Datagram<'_>) -> bool;
}

/// Sequence numbers of one universe that leaves: 1 to 255, then 1 again (Art-Net 4).
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Numbers(u8);

impl Numbers {
    pub(super) fn next(&mut self) -> u8 {
        self.0 = if self.0 == 255 { 1 } else { self.0 + 1 };
        self.0
    }
}

/// Sends a picture to its node.
pub(super) fn send_frame(
    outlet: &mut impl Outlet,
    frame: &CappedFrame<'_>,
    port_address: PortAddress,
    to: SocketAddrV4,
    number: u8,
) -> bool {
    let slots = frame.slots();
    let header = dmx::header(number, 0, port_address, slots.len());
    let parts = [header.as_slice(), slots];
    outlet.send(Datagram { to, parts })
}

/// Tells a node to show what it got. Unicast, like all that litfloor sends, so that it reaches
/// only nodes of the floor file.
pub(super) fn send_sync(outlet: &mut impl Outlet, to: SocketAddrV4) -> bool {
    outlet.send(Datagram::whole(to, &sync::BYTES))
}

/// Asks a node whether it is there.
pub(super) fn send_poll(outlet: &mut impl Outlet, to: SocketAddrV4) -> bool {
    outlet.send(Datagram::whole(to, &poll::write()))
}

/// Tells the litfloor that stands by that this one is there, or the other way round.
pub(super) fn send_beat(outlet: &mut impl Outlet, to: SocketAddrV4, beat: &[u8]) {
    outlet.send(Datagram::whole(to, beat));
}

/// Answers a poll.
pub(super) fn send_reply(outlet: &mut impl Outlet, to: SocketAddrV4, reply: &[u8]) -> bool {
    outlet.send(Datagram::whole(to, reply))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_wrap_past_zero() {
        let mut numbers = Numbers::default();
        let all: Vec<u8> = (0..256).map(|_| numbers.next()).collect();
        assert_eq!((all[0], all[254], all[255]), (1, 255, 1));
        assert!(!all.contains(&0));
    }
}
