//! Whom the floor file lets in: networks that may send, and universes that are pinned to one source.

use std::net::Ipv4Addr;

use super::Engine;
use super::tally::Outcome;
use crate::floor::model::{Floor, Pin};
use crate::floor::tables::Tables;
use crate::units::Time;
use crate::wire::dmx::Dmx;
use crate::wire::{Packet, PortAddress};

/// For each universe that arrives, the one address that it is taken from, if it is pinned.
pub(super) fn pins(floor: &Floor, tables: &Tables) -> Vec<Option<Ipv4Addr>> {
    let pins = &floor.network.pins;
    let of = |address: PortAddress| {
        let holds = |pin: &&Pin| pin.numbers().contains(&address.number());
        pins.iter().find(holds).map(|pin| pin.source)
    };
    let universes = tables.universes.iter();
    universes
        .map(|universe| of(universe.port_address))
        .collect()
}

impl Engine {
    /// Whether a packet from this address is let in. Nodes need no leave to answer and to send their
    /// switches, and who stands by needs none to poll and to answer; its beats are none of Art-Net's.
    pub(super) fn admits(&self, from: Ipv4Addr, packet: &Packet<'_>) -> bool {
        if self.floor.network.admits(from) {
            return true;
        }
        match packet {
            // Whose switches they may be is known better by who takes them.
            Packet::Dmx(dmx) => self.switches.has(dmx.port_address),
            Packet::PollReply(_) => self.nodes.has(from) || self.is_standby(from),
            Packet::Poll(_) => self.is_standby(from),
            Packet::Sync | Packet::Other(_) => false,
        }
    }

    /// Whether the floor file names this address as the source of a universe.
    pub(super) fn is_pinned(&self, from: Ipv4Addr) -> bool {
        let mut pins = self.floor.network.pins.iter();
        pins.any(|pin| pin.source == from)
    }

    /// The outcome of a frame for a universe that the picture does not use.
    pub(super) fn take_other(&mut self, now: Time, from: Ipv4Addr, dmx: &Dmx<'_>) -> Outcome {
        if let Some(outcome) = self.switches.take(from, dmx, now) {
            return outcome;
        }
        self.unmapped.take(dmx, from, now);
        Outcome::Unmapped
    }
}
