//! Datagrams of strangers, consoles and nodes, in any order and from any address.
//!
//! ```text
//! u8 what the nodes are like · records
//! record: u8 kind · …
//!   0  a datagram:         sender · u16 length · bytes
//!   1  a frame:            sender · u8 sequence · u16 Port-Address · u16 slots · u8 level · u8 step
//!   2  time:               u8; the two highest bits shift the others left by three each: milliseconds
//!   3  ArtSync, ArtPoll:   sender · u8 which
//!   4  the cable:          u8 out if odd
//!   5  refused afterwards: u8 node
//!   6  a look at the state
//!   7  a beat:           u8 what it says · u8 live limit
//! sender: u8; below 8 one of the usual, otherwise four bytes of an address and two of a port follow
//! ```
#![no_main]

use std::net::{Ipv4Addr, SocketAddrV4};

use libfuzzer_sys::fuzz_target;
use litfloor::wire::beat::Beat;
use litfloor::wire::{self, Packet};
use litfloor_fuzz::bytes::Bytes;
use litfloor_fuzz::world::World;

/// Two consoles, a third, both nodes, the same from another port, litfloor itself, everybody.
const SENDERS: [([u8; 4], u16); 8] = [
    ([10, 0, 0, 5], 6454),
    ([10, 0, 0, 6], 6454),
    ([192, 168, 1, 7], 50_000),
    ([10, 0, 0, 21], 6454),
    ([10, 0, 0, 22], 6454),
    ([10, 0, 0, 21], 1),
    ([10, 0, 0, 2], 6454),
    ([255, 255, 255, 255], 6454),
];

fn sender(bytes: &mut Bytes<'_>) -> SocketAddrV4 {
    let usual = bytes.u8();
    let (ip, port) = match SENDERS.get(usize::from(usual)) {
        Some(usual) => *usual,
        None => {
            let ip = [bytes.u8(), bytes.u8(), bytes.u8(), bytes.u8()];
            (ip, bytes.u16())
        }
    };
    SocketAddrV4::new(Ipv4Addr::from(ip), port)
}

fn read_alone(datagram: &[u8]) {
    assert_eq!(
        Beat::read(datagram, &[1; 32]),
        None,
        "nobody knows this key"
    );
    match wire::read(datagram) {
        Ok(Packet::Dmx(dmx)) => {
            assert!((1..=512).contains(&dmx.slots.len()));
            let glance = wire::dmx::address_at_a_glance(datagram);
            assert_eq!(glance, Some(dmx.port_address));
        }
        Ok(Packet::PollReply(reply)) => assert!(reply.ports.len() <= 8),
        _ => {}
    }
}

fn record(world: &mut World, bytes: &mut Bytes<'_>) {
    match bytes.u8() {
        0 => {
            let from = sender(bytes);
            let datagram = bytes.piece();
            read_alone(datagram);
            world.arrives(from, datagram);
        }
        1 => {
            let from = sender(bytes);
            let (sequence, universe, length) = (bytes.u8(), bytes.u16(), bytes.u16());
            let (level, step) = (bytes.u8(), bytes.u8());
            let mut slots = [0; 512];
            let mut next = level;
            for slot in &mut slots {
                *slot = next;
                next = next.wrapping_add(step);
            }
            world.dmx(
                from,
                sequence,
                universe,
                &slots[..usize::from(length).clamp(1, 512)],
            );
        }
        2 => {
            let said = u64::from(bytes.u8());
            world.passes((said & 0x3F) << (3 * (said >> 6)));
        }
        3 => {
            let from = sender(bytes);
            let datagram = if bytes.u8() & 1 == 0 {
                wire::sync::BYTES.to_vec()
            } else {
                wire::poll::write().to_vec()
            };
            world.arrives(from, &datagram);
        }
        4 => world.turns(bytes.u8() & 1 == 1),
        5 => world.refuses(bytes.u8().into()),
        7 => world.beats(bytes.u8(), bytes.u8()),
        _ => drop(world.state()),
    }
}

fuzz_target!(|data: &[u8]| {
    let mut bytes = Bytes(data);
    let mut world = World::new(bytes.u8());
    while bytes.more() {
        record(&mut world, &mut bytes);
    }
    world.passes(50);
    world.state();
});
