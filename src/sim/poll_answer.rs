//! What a simulated node answers to `ArtPoll`: one `ArtPollReply` for each four outputs of one
//! Net and Sub-Net, written by an independent protocol library.

use std::ops::RangeInclusive;

use artnet_protocol::{ArtCommand, PollReply};

use super::character::Character;
use crate::wire::PortAddress;

/// Most outputs that one reply can tell of.
const PORTS: usize = 4;

/// The replies, root first; none if `wanted` has none of its outputs. `round` counts answered
/// polls, `lit` says whether an output has data.
pub(super) fn replies(
    character: &Character,
    wanted: &RangeInclusive<u16>,
    round: u64,
    lit: impl Fn(PortAddress) -> bool,
) -> Vec<Vec<u8>> {
    let is_wanted = |address: &PortAddress| wanted.contains(&address.number());
    if !character.outputs.is_empty() && !character.outputs.iter().any(is_wanted) {
        return Vec::new();
    }
    let mut groups: Vec<&[PortAddress]> = character
        .outputs
        .chunk_by(|a, b| (a.net(), a.sub_net()) == (b.net(), b.sub_net()))
        .flat_map(|same| same.chunks(PORTS))
        .collect();
    if groups.is_empty() {
        groups.push(&[]);
    }
    let packets = (1_u8..).zip(groups).map(|(index, ports)| {
        ArtCommand::PollReply(Box::new(reply(character, index, ports, round, &lit)))
    });
    packets
        .filter_map(|packet| packet.write_to_buffer().ok())
        .collect()
}

fn reply(
    character: &Character,
    bind_index: u8,
    ports: &[PortAddress],
    round: u64,
    lit: &impl Fn(PortAddress) -> bool,
) -> PollReply {
    let each = |value: &dyn Fn(PortAddress) -> u8| {
        let mut fields = [0; PORTS];
        for (field, &port) in fields.iter_mut().zip(ports) {
            *field = value(port);
        }
        fields
    };
    let octets = character.address.ip().octets();
    #[expect(clippy::cast_possible_truncation, reason = "four at most")]
    let count = ports.len() as u8;
    let report = format!("#0001 [{:04}] simulated, no fault", round % 10_000);
    PollReply {
        address: *character.address.ip(),
        port: character.address.port(),
        version: [1, 0],
        port_address: ports
            .first()
            .map_or([0, 0], |port| [port.net(), port.sub_net()]),
        // "OEM unknown" and a manufacturer code of the range for experiments (from memory).
        oem: [0x00, 0xFF],
        esta_code: 0x7FF0,
        // Indicators normal, addresses set by network (from memory).
        status_1: 0xE0,
        short_name: text(&character.short_name),
        long_name: text(&character.long_name),
        node_report: text(&report),
        num_ports: [0, count],
        port_types: each(&|_| 0x80),
        // Bit 7: data flows (from memory).
        good_output: each(&|port| if lit(port) { 0x80 } else { 0 }),
        swout: each(&PortAddress::universe),
        // A locally administered address that nobody owns.
        mac: [0x02, 0, 0, octets[1], octets[2], octets[3]],
        bind_ip: octets,
        bind_index,
        // Bit 3: speaks 15-bit Port-Addresses.
        status_2: 0x08,
        ..PollReply::default()
    }
}

/// A text in a field that always ends with a zero.
fn text<const N: usize>(text: &str) -> [u8; N] {
    let mut field = [0; N];
    let mut end = text.len().min(N - 1);
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    field[..end].copy_from_slice(&text.as_bytes()[..end]);
    field
}

#[cfg(test)]
mod tests {
    use std::net::{Ipv4Addr, SocketAddrV4};

    use super::*;
    use crate::sim::node::SimNode;
    use crate::units::Time;

    const FROM: SocketAddrV4 = SocketAddrV4::new(Ipv4Addr::LOCALHOST, 50_000);

    fn node(outputs: &[u16]) -> SimNode {
        SimNode::new(Character {
            short_name: "north, a name that is too long".into(),
            long_name: "Simulated node".into(),
            address: SocketAddrV4::new(Ipv4Addr::new(127, 0, 0, 21), 6454),
            outputs: outputs
                .iter()
                .map(|&number| PortAddress::new(number).unwrap())
                .collect(),
            syncs: true,
            orders: true,
        })
    }

    fn poll() -> Vec<u8> {
        ArtCommand::Poll(artnet_protocol::Poll::default())
            .write_to_buffer()
            .unwrap()
    }

    #[test]
    fn lies_at_the_published_offsets() {
        // Offsets of ArtPollReply: the published Art-Net 4 specification, as decoded by tshark.
        let mut node = node(&[0x0012, 0x0013]);
        let dark = node.handle(Time(0), FROM, &poll());
        assert_eq!(dark[0][182..186], [0, 0, 0, 0]);
        node.handle(
            Time(0),
            FROM,
            b"Art-Net\0\x00\x50\x00\x0e\x01\x00\x13\x00\x00\x02\x05\x06",
        );
        let replies = node.handle(Time(0), FROM, &poll());
        assert_eq!(replies.len(), 1);
        let bytes = &replies[0];
        assert_eq!(bytes.len(), 239);
        assert_eq!(&bytes[..10], b"Art-Net\0\x00\x21");
        assert_eq!(bytes[10..14], [127, 0, 0, 21]);
        assert_eq!(bytes[14..16], [0x36, 0x19]);
        assert_eq!(bytes[18..20], [0, 1], "Net, Sub-Net");
        assert_eq!(bytes[24..26], [0xF0, 0x7F], "ESTA code, little endian");
        assert_eq!(&bytes[26..44], b"north, a name tha\0");
        assert_eq!(&bytes[44..59], b"Simulated node\0");
        assert_eq!(&bytes[108..115], b"#0001 [");
        assert_eq!(bytes[172..174], [0, 2], "NumPorts");
        assert_eq!(bytes[174..178], [0x80, 0x80, 0, 0], "PortTypes");
        assert_eq!(bytes[182..186], [0, 0x80, 0, 0], "GoodOutput");
        assert_eq!(bytes[190..194], [2, 3, 0, 0], "SwOut");
        assert_eq!(bytes[207..211], [127, 0, 0, 21], "BindIp");
        assert_eq!(
            (bytes[211], bytes[212] & 0x08),
            (1, 0x08),
            "BindIndex, Status2"
        );
    }

    #[test]
    fn a_protocol_library_finds_every_output() {
        let outputs = [1, 2, 3, 4, 5, 0x0010, 0x0011, 0x7FFF];
        let mut found = Vec::new();
        for (index, bytes) in node(&outputs)
            .handle(Time(0), FROM, &poll())
            .iter()
            .enumerate()
        {
            let Ok(ArtCommand::PollReply(reply)) = ArtCommand::from_buffer(bytes) else {
                panic!("not a reply");
            };
            assert_eq!(usize::from(reply.bind_index), index + 1);
            let [net, sub_net] = reply.port_address.map(u16::from);
            for port in 0..usize::from(reply.num_ports[1]) {
                assert_eq!(reply.port_types[port], 0x80);
                found.push(net << 8 | sub_net << 4 | u16::from(reply.swout[port]));
            }
        }
        assert_eq!(found, outputs);
    }

    #[test]
    fn a_targeted_poll_is_answered_only_by_those_it_means() {
        // Flags bit 5, then top and bottom of the wanted Port-Addresses, big endian.
        let targeted = |top: u8, bottom: u8| {
            let mut bytes = b"Art-Net\0\x00\x20\x00\x0e\x20\x00".to_vec();
            bytes.extend([0, top, 0, bottom, 0, 0, 0, 0]);
            bytes
        };
        assert_eq!(node(&[5]).handle(Time(0), FROM, &targeted(6, 4)).len(), 1);
        assert!(node(&[5]).handle(Time(0), FROM, &targeted(4, 1)).is_empty());
    }
}
