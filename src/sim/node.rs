//! A simulated node: takes `ArtDmx`, keeps what its outputs hold, answers polls.
//!
//! It is the witness of what a frame path under test has really sent, and shares no code with it.

use std::collections::BTreeMap;
use std::net::{Ipv4Addr, SocketAddrV4};

pub use super::character::Character;
use super::outage::Outage;
use super::poll_answer;
use super::switches::SimSwitches;
use super::witness::{Packet, parse};
use crate::units::Time;
use crate::wire::PortAddress;

/// After so long without `ArtSync` a node acts on `ArtDmx` at once again (Art-Net 4).
const SYNC_FALLBACK_MS: u64 = 4_000;

/// A packet whose sequence lies so few steps back is an old one; further back, its sender has
/// started again.
const OLD_STEPS: u16 = 20;

/// One output.
#[derive(Debug, Clone)]
pub(super) struct Output {
    /// What lights the floor now; nothing before the first packet.
    pub(super) held: Option<[u8; 512]>,
    /// What waits for `ArtSync`.
    pub(super) waiting: Option<[u8; 512]>,
    /// Sequence number of the newest packet; 0 when packets are not numbered.
    pub(super) sequence: u8,
}

/// What became of the packets so far.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Counts {
    /// `ArtDmx` for one of its outputs, taken.
    pub taken: u64,
    /// `ArtDmx` dropped because its sequence number was old.
    pub old: u64,
    /// `ArtDmx` for a universe that it does not output.
    pub foreign: u64,
    /// Polls answered.
    pub polls: u64,
    /// Anything that it can't read or has no use for.
    pub other: u64,
}

/// A simulated node.
#[derive(Debug, Clone)]
pub struct SimNode {
    character: Character,
    pub(super) outputs: BTreeMap<PortAddress, Output>,
    /// Those under panels, if it has some.
    pub(super) switches: Option<SimSwitches>,
    pub(super) last_sync: Option<Time>,
    pub(super) last_sender: Option<Ipv4Addr>,
    counts: Counts,
    /// Polls answered since it was switched on.
    pub(super) round: u64,
    pub(super) outage: Outage,
}

impl SimNode {
    /// A node that was just switched on: its outputs hold nothing.
    pub fn new(character: Character) -> Self {
        let dark = Output {
            held: None,
            waiting: None,
            sequence: 0,
        };
        let outputs = character
            .outputs
            .iter()
            .map(|&address| (address, dark.clone()))
            .collect();
        Self {
            character,
            outputs,
            switches: None,
            last_sync: None,
            last_sender: None,
            counts: Counts::default(),
            round: 0,
            outage: Outage::default(),
        }
    }

    /// A datagram arrived; the answers, for whoever sent it.
    pub fn handle(&mut self, now: Time, from: SocketAddrV4, datagram: &[u8]) -> Vec<Vec<u8>> {
        self.settle(now);
        if self.is_off() {
            return Vec::new();
        }
        match parse(datagram) {
            Some(Packet::Dmx {
                sequence,
                port_address,
                slots,
            }) => {
                self.take(*from.ip(), sequence, port_address, slots);
            }
            Some(Packet::Sync) => self.sync(now, *from.ip()),
            Some(Packet::Poll { wanted }) => {
                self.counts.polls += 1;
                self.round += 1;
                return poll_answer::replies(&self.character, &wanted, self.round, |address| {
                    self.held(address).is_some()
                });
            }
            None => self.counts.other += 1,
        }
        Vec::new()
    }

    /// Lets time pass: without `ArtSync` for 4 s, what waits is shown and nothing waits any more.
    pub fn settle(&mut self, now: Time) {
        self.settle_outage(now);
        if self
            .last_sync
            .is_some_and(|last| now.us_since(last) >= SYNC_FALLBACK_MS * 1_000)
        {
            self.last_sync = None;
            self.release();
        }
    }

    /// What an output holds: nothing before its first packet or if it has no such output.
    pub fn held(&self, port_address: PortAddress) -> Option<&[u8; 512]> {
        self.outputs.get(&port_address)?.held.as_ref()
    }

    /// What it is.
    pub const fn character(&self) -> &Character {
        &self.character
    }

    /// What became of the packets so far.
    pub const fn counts(&self) -> Counts {
        self.counts
    }

    fn take(&mut self, from: Ipv4Addr, sequence: u8, port_address: u16, slots: &[u8]) {
        let output = PortAddress::new(port_address).and_then(|it| self.outputs.get_mut(&it));
        let Some(output) = output else {
            self.counts.foreign += 1;
            return;
        };
        if self.character.orders && is_old(output.sequence, sequence) {
            self.counts.old += 1;
            return;
        }
        output.sequence = sequence;
        self.last_sender = Some(from);
        self.counts.taken += 1;
        let waits = self.character.syncs && self.last_sync.is_some();
        // A short packet leaves the other slots as they were.
        let before = output.waiting.filter(|_| waits).or(output.held);
        let mut levels = before.unwrap_or([0; 512]);
        levels[..slots.len()].copy_from_slice(slots);
        if waits {
            output.waiting = Some(levels);
        } else {
            output.held = Some(levels);
        }
    }

    fn sync(&mut self, now: Time, from: Ipv4Addr) {
        if !self.character.syncs || self.last_sender != Some(from) {
            self.counts.other += 1;
            return;
        }
        self.last_sync = Some(now);
        self.release();
    }

    fn release(&mut self) {
        for output in self.outputs.values_mut() {
            if let Some(levels) = output.waiting.take() {
                output.held = Some(levels);
            }
        }
    }
}

/// Whether `sequence` lies a few steps before `newest` (1 to 255, then 1 again; 0 is not used).
fn is_old(newest: u8, sequence: u8) -> bool {
    if newest == 0 || sequence == 0 {
        return false;
    }
    let back = (u16::from(newest) + 255 - u16::from(sequence)) % 255;
    (1..=OLD_STEPS).contains(&back)
}

#[cfg(test)]
mod tests {
    use artnet_protocol::{ArtCommand, Output as Sent};

    use super::*;

    const CONSOLE: SocketAddrV4 = SocketAddrV4::new(Ipv4Addr::new(127, 0, 0, 9), 6454);

    fn node(syncs: bool, orders: bool) -> SimNode {
        SimNode::new(Character {
            short_name: "sim".into(),
            long_name: "Simulated node".into(),
            address: SocketAddrV4::new(Ipv4Addr::LOCALHOST, 6454),
            outputs: vec![address(1), address(18)],
            syncs,
            orders,
        })
    }

    fn address(number: u16) -> PortAddress {
        PortAddress::new(number).unwrap()
    }

    /// An `ArtDmx` written by a protocol library.
    fn dmx(universe: u16, sequence: u8, slots: Vec<u8>) -> Vec<u8> {
        ArtCommand::Output(Sent {
            port_address: universe.try_into().unwrap(),
            sequence,
            data: slots.into(),
            ..Sent::default()
        })
        .write_to_buffer()
        .unwrap()
    }

    /// 14 bytes, as Art-Net 4 lays them out.
    const SYNC: &[u8] = b"Art-Net\0\x00\x52\x00\x0e\x00\x00";

    fn first(node: &SimNode, universe: u16) -> Option<u8> {
        node.held(address(universe)).map(|slots| slots[0])
    }

    #[test]
    fn holds_what_a_protocol_library_sent() {
        let mut node = node(false, true);
        assert_eq!(first(&node, 18), None);
        node.handle(Time(0), CONSOLE, &dmx(18, 1, vec![9, 8, 7, 6]));
        let held = node.held(address(18)).unwrap();
        assert_eq!(
            (&held[..4], held[4..].iter().max()),
            (&[9, 8, 7, 6][..], Some(&0))
        );
        // A shorter one leaves the rest as it was.
        node.handle(Time(0), CONSOLE, &dmx(18, 2, vec![1, 2]));
        assert_eq!(node.held(address(18)).unwrap()[..4], [1, 2, 7, 6]);
        node.handle(Time(0), CONSOLE, &dmx(3, 1, vec![5, 5]));
        assert_eq!(node.held(address(3)), None);
        assert_eq!(
            node.counts(),
            Counts {
                taken: 2,
                foreign: 1,
                ..Counts::default()
            }
        );
    }

    #[test]
    fn the_length_field_rules_and_garbage_is_counted() {
        let mut node = node(false, true);
        let mut lying = dmx(1, 0, vec![1, 2, 3, 4]);
        lying[16..18].copy_from_slice(&2_u16.to_be_bytes());
        node.handle(Time(0), CONSOLE, &lying);
        assert_eq!(node.held(address(1)).unwrap()[..4], [1, 2, 0, 0]);
        lying[16..18].copy_from_slice(&u16::MAX.to_be_bytes());
        node.handle(Time(0), CONSOLE, &lying);
        assert_eq!(node.held(address(1)).unwrap()[..5], [1, 2, 3, 4, 0]);
        lying[16..18].copy_from_slice(&[0, 0]);
        let mut old_protocol = dmx(1, 0, vec![9, 9]);
        old_protocol[11] = 13;
        let unknown = b"Art-Net\0\x01\x02\x00\x0e\x00\x00";
        let bad: [&[u8]; 6] = [
            &lying,
            &old_protocol,
            unknown,
            b"",
            b"Art-Net\0",
            &lying[..17],
        ];
        for bytes in bad {
            assert!(node.handle(Time(0), CONSOLE, bytes).is_empty());
        }
        assert_eq!((node.counts().other, first(&node, 1)), (6, Some(1)));
    }

    #[test]
    fn old_numbers_are_dropped_only_by_a_node_that_orders() {
        for orders in [true, false] {
            let mut node = node(false, orders);
            let mut levels = Vec::new();
            // Equal numbers and unnumbered ones are never old; 255 is followed by 1.
            for (level, sequence) in [
                (1, 254),
                (2, 255),
                (3, 1),
                (4, 255),
                (5, 1),
                (6, 0),
                (7, 200),
            ] {
                node.handle(Time(0), CONSOLE, &dmx(1, sequence, vec![level, 0]));
                levels.push(first(&node, 1).unwrap());
            }
            let fourth = if orders { 3 } else { 4 };
            assert_eq!(levels, [1, 2, 3, fourth, 5, 6, 7]);
        }
        // Far back: the sender has started again.
        let mut node = node(false, true);
        node.handle(Time(0), CONSOLE, &dmx(1, 100, vec![1, 0]));
        node.handle(Time(0), CONSOLE, &dmx(1, 1, vec![2, 0]));
        assert_eq!(first(&node, 1), Some(2));
    }

    #[test]
    fn waits_for_sync_and_gives_up_after_four_seconds() {
        let mut node = node(true, true);
        node.handle(Time::from_s(1), CONSOLE, &dmx(1, 1, vec![1, 0]));
        assert_eq!(first(&node, 1), Some(1), "at once before the first sync");
        // A sync from someone else counts for nothing.
        let stranger = SocketAddrV4::new(Ipv4Addr::new(127, 0, 0, 8), 6454);
        node.handle(Time::from_s(1), stranger, SYNC);
        node.handle(Time::from_s(1), CONSOLE, &dmx(1, 2, vec![2, 0]));
        assert_eq!(first(&node, 1), Some(2));
        node.handle(Time::from_s(2), CONSOLE, SYNC);
        node.handle(Time::from_s(2), CONSOLE, &dmx(1, 3, vec![3, 0]));
        assert_eq!(first(&node, 1), Some(2));
        node.handle(Time::from_s(3), CONSOLE, SYNC);
        assert_eq!(first(&node, 1), Some(3));
        node.handle(Time::from_s(4), CONSOLE, &dmx(1, 4, vec![4, 0]));
        node.settle(Time(6_999_999));
        assert_eq!(first(&node, 1), Some(3));
        node.settle(Time::from_s(7));
        assert_eq!(first(&node, 1), Some(4));
        node.handle(Time::from_s(8), CONSOLE, &dmx(1, 5, vec![5, 0]));
        assert_eq!(first(&node, 1), Some(5), "at once again");
    }
}
