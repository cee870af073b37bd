//! `ArtPollReply` (0x2100): what a node says of itself.
//!
//! Through the `artnet_protocol` crate, which wants all 239 bytes: a shorter reply (207 and more
//! are valid) is filled up with zeros first, as the specification says.

use std::net::Ipv4Addr;

use artnet_protocol::ArtCommand;

use super::{PORT, PortAddress, Refusal};

/// OpCode of `ArtPollReply`.
pub const OP_POLL_REPLY: u16 = 0x2100;

/// The shortest reply that is taken (Art-Net 4).
const SHORTEST: usize = 207;

/// A whole reply.
const WHOLE: usize = 239;

/// Bits of PortTypes.
const OUTPUT: u8 = 0x80;
const INPUT: u8 = 0x40;

/// Bit of `GoodInput` and `GoodOutput`: data flows (from memory).
const ACTIVE: u8 = 0x80;
/// Bit of `GoodOutput`: the output is short (from memory).
const SHORT: u8 = 0x04;

/// What a node says of itself, up to four ports at a time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PollReply {
    /// The address it gives, which need not be the one that it sends from.
    pub address: Ipv4Addr,
    /// Firmware version, major and minor.
    pub version: [u8; 2],
    /// Up to 17 characters.
    pub short_name: String,
    /// Up to 63 characters.
    pub long_name: String,
    /// Status text, up to 63 characters.
    pub report: String,
    /// Order among the replies of one device; 0 and 1 are the root.
    pub bind_index: u8,
    /// Its ports.
    pub ports: Vec<Port>,
}

/// One port of a node.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Port {
    /// From Art-Net to the light, or the other way.
    pub direction: Direction,
    /// Its universe.
    pub port_address: PortAddress,
    /// Whether data flows: bit 7 of `GoodInput` or `GoodOutput` (from memory).
    pub active: bool,
    /// Whether it reports a short at this output: bit 2 of `GoodOutput` (from memory).
    pub short_circuit: bool,
}

/// Which way a port works.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Direction {
    /// From Art-Net to the light.
    Output,
    /// From a desk or switches to Art-Net.
    Input,
}

impl PollReply {
    /// Reads a reply of 207 bytes or more.
    pub(super) fn read(bytes: &[u8]) -> Result<Self, Refusal> {
        if bytes.len() < SHORTEST {
            return Err(Refusal::Truncated);
        }
        let mut whole = [0; WHOLE];
        let length = bytes.len().min(WHOLE);
        whole[..length].copy_from_slice(&bytes[..length]);
        let Ok(ArtCommand::PollReply(reply)) = ArtCommand::from_buffer(&whole) else {
            return Err(Refusal::Truncated);
        };
        let base = u16::from(reply.port_address[0] & 0x7F) << 8
            | u16::from(reply.port_address[1] & 0xF) << 4;
        let mut ports = Vec::new();
        for at in 0..4 {
            let kind = reply.port_types[at];
            let mut push = |direction, switch: u8, active, short_circuit| {
                if let Some(port_address) = PortAddress::new(base | u16::from(switch & 0xF)) {
                    ports.push(Port {
                        direction,
                        port_address,
                        active,
                        short_circuit,
                    });
                }
            };
            let good = reply.good_output[at];
            if kind & OUTPUT != 0 {
                push(
                    Direction::Output,
                    reply.swout[at],
                    good & ACTIVE != 0,
                    good & SHORT != 0,
                );
            }
            if kind & INPUT != 0 {
                push(
                    Direction::Input,
                    reply.swin[at],
                    reply.good_input[at] & ACTIVE != 0,
                    false,
                );
            }
        }
        Ok(Self {
            address: reply.address,
            version: reply.version,
            short_name: text(&reply.short_name),
            long_name: text(&reply.long_name),
            report: text(&reply.node_report),
            bind_index: reply.bind_index,
            ports,
        })
    }
}

/// Printable text up to the first NUL.
fn text(bytes: &[u8]) -> String {
    let end = bytes
        .iter()
        .position(|&byte| byte == 0)
        .unwrap_or(bytes.len());
    String::from_utf8_lossy(&bytes[..end])
        .chars()
        .filter(|c| !c.is_control())
        .collect()
}

/// Who answers polls: litfloor itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Identity {
    /// The address that nodes and consoles reach it at.
    pub address: Ipv4Addr,
    /// Up to 17 characters are used.
    pub short_name: String,
    /// Up to 63 characters are used.
    pub long_name: String,
    /// Major and minor version of this program.
    pub version: [u8; 2],
}

/// Ports of one reply: universes that share Net and Sub-Net, four at most.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Page {
    /// One to four universes.
    pub universes: Vec<PortAddress>,
}

/// Universes split into the ports of as many replies as they need.
pub fn pages(universes: &[PortAddress]) -> Vec<Page> {
    let mut pages: Vec<Page> = Vec::new();
    for &address in universes {
        match pages.last_mut() {
            Some(page)
                if page.universes.len() < 4
                    && page.universes[0].number() >> 4 == address.number() >> 4 =>
            {
                page.universes.push(address);
            }
            _ => pages.push(Page {
                universes: vec![address],
            }),
        }
    }
    pages
}

/// Writes the reply for one page of ports. `bind_index` counts from 1, `counter` is the running
/// number of replies, `live` says for each port whether data flows. Empty if the crate should
/// ever refuse to write it.
pub fn write(
    me: &Identity,
    page: &Page,
    live: impl Fn(PortAddress) -> bool,
    bind_index: u8,
    counter: u32,
) -> Vec<u8> {
    let mut reply = artnet_protocol::PollReply {
        address: me.address,
        // Art-Net 4: always this number (from memory), even if we were told to listen elsewhere.
        port: PORT,
        version: me.version,
        // OEM code 0x00FF is "unknown", ESTA code 0x7FF0 is the first of the prototyping range
        // (both from memory).
        oem: [0x00, 0xFF],
        esta_code: 0x7FF0,
        short_name: fixed(&me.short_name),
        long_name: fixed(&me.long_name),
        node_report: fixed(&format!("#0001 [{:04}] running", counter % 10_000)),
        bind_ip: me.address.octets(),
        bind_index,
        // Bit 3: 15-bit Port-Addresses.
        status_2: 0x08,
        ..Default::default()
    };
    if let Some(first) = page.universes.first() {
        reply.port_address = [first.net(), first.sub_net()];
    }
    #[expect(clippy::cast_possible_truncation, reason = "four at most")]
    let count = page.universes.len().min(4) as u8;
    reply.num_ports = [0, count];
    for (at, &address) in page.universes.iter().take(4).enumerate() {
        reply.port_types[at] = OUTPUT;
        reply.good_output[at] = if live(address) { ACTIVE } else { 0 };
        reply.swout[at] = address.universe();
    }
    ArtCommand::PollReply(Box::new(reply))
        .write_to_buffer()
        .unwrap_or_default()
}

/// A text in a field of fixed size that ends with at least one NUL; ASCII only.
fn fixed<const N: usize>(text: &str) -> [u8; N] {
    let mut field = [0; N];
    let bytes = text.chars().map(|c| {
        if c.is_ascii_graphic() || c == ' ' {
            c
        } else {
            '?'
        }
    });
    for (slot, c) in field.iter_mut().take(N - 1).zip(bytes) {
        *slot = c as u8;
    }
    field
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire::testing::unhex;
    use crate::wire::{Packet, read};

    /// A reply of 239 bytes, decoded with tshark 4.0.17: "Floor", one output 25:0:0 … see below.
    fn golden() -> Vec<u8> {
        let mut bytes = vec![0; WHOLE];
        bytes[..8].copy_from_slice(b"Art-Net\0");
        bytes[8..14].copy_from_slice(&unhex("00217f000001"));
        bytes[14..26].copy_from_slice(&unhex("36190001050300ff00d0f07f"));
        bytes[26..31].copy_from_slice(b"Floor");
        bytes[44..54].copy_from_slice(b"Floor node");
        bytes[108..123].copy_from_slice(b"#0001 [0007] ok");
        bytes[172..191].copy_from_slice(&unhex("0001c000000080000000800000000400000002"));
        bytes[207..213].copy_from_slice(&unhex("7f000001010e"));
        bytes
    }

    fn reply(bytes: &[u8]) -> PollReply {
        match read(bytes) {
            Ok(Packet::PollReply(reply)) => *reply,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn reads_whole_and_short_replies() {
        for length in [207, 213, 239] {
            let reply = reply(&golden()[..length]);
            assert_eq!(reply.address, Ipv4Addr::LOCALHOST);
            assert_eq!(reply.version, [0, 1]);
            assert_eq!(
                (reply.short_name.as_str(), reply.long_name.as_str()),
                ("Floor", "Floor node")
            );
            assert_eq!(reply.report, "#0001 [0007] ok");
            assert_eq!(reply.bind_index, u8::from(length > 211));
            let ports: Vec<_> = reply
                .ports
                .iter()
                .map(|p| (p.direction, p.port_address.to_string()))
                .collect();
            assert_eq!(
                ports,
                [
                    (Direction::Output, "5:3:2".into()),
                    (Direction::Input, "5:3:4".into())
                ]
            );
            assert!(reply.ports.iter().all(|port| port.active));
        }
        assert_eq!(read(&golden()[..206]), Err(Refusal::Truncated));
    }

    #[test]
    fn pages_hold_four_ports_of_one_sub_net() {
        let universes: Vec<_> = [0x0E, 0x0F, 0x10, 0x11, 0x12, 0x13, 0x14]
            .map(|n| PortAddress::new(n).unwrap())
            .into();
        let sizes: Vec<_> = pages(&universes)
            .iter()
            .map(|page| page.universes.len())
            .collect();
        assert_eq!(sizes, [2, 4, 1]);
        assert!(pages(&[]).is_empty());
    }

    #[test]
    fn offsets_are_those_of_the_specification() {
        let me = Identity {
            address: Ipv4Addr::new(10, 0, 0, 5),
            short_name: "a name that is far too long for the field".into(),
            long_name: "Straße".into(),
            version: [1, 2],
        };
        let page = Page {
            universes: [0x532, 0x533].map(|n| PortAddress::new(n).unwrap()).into(),
        };
        let bytes = write(&me, &page, |address| address.number() == 0x533, 3, 12);
        assert_eq!(bytes.len(), WHOLE);
        assert_eq!(bytes[8..10], [0x00, 0x21]);
        assert_eq!(bytes[10..14], [10, 0, 0, 5]);
        assert_eq!(bytes[14..16], [0x36, 0x19], "port 6454, little endian");
        assert_eq!(bytes[16..20], [1, 2, 5, 3]);
        assert_eq!(&bytes[26..44], b"a name that is fa\0");
        assert_eq!(&bytes[44..51], b"Stra?e\0");
        assert_eq!(bytes[172..174], [0, 2]);
        assert_eq!(bytes[174..178], [0x80, 0x80, 0, 0]);
        assert_eq!(bytes[182..186], [0, 0x80, 0, 0]);
        assert_eq!(bytes[190..194], [2, 3, 0, 0]);
        assert_eq!(bytes[207..211], [10, 0, 0, 5]);
        assert_eq!((bytes[211], bytes[212]), (3, 0x08));
        let back = reply(&bytes);
        assert_eq!(back.ports.len(), 2);
        assert_eq!(back.ports[1].port_address.to_string(), "5:3:3");
    }
}
