//! A reader of Art-Net packets by the published layout, for the simulated nodes alone: the frame
//! path under test has another, so that a fault in one shows against the other.

use std::ops::RangeInclusive;

/// What a datagram is, as far as a node cares.
pub(super) enum Packet<'a> {
    /// `ArtDmx` with at least one slot.
    Dmx {
        sequence: u8,
        port_address: u16,
        slots: &'a [u8],
    },
    /// `ArtSync`.
    Sync,
    /// `ArtPoll`, and the Port-Addresses that it asks for.
    Poll { wanted: RangeInclusive<u16> },
}

/// Reads a datagram; nothing if a node has no use for it.
pub(super) fn parse(bytes: &[u8]) -> Option<Packet<'_>> {
    let body = bytes.strip_prefix(b"Art-Net\0")?;
    let version = u16::from_be_bytes([*body.get(2)?, *body.get(3)?]);
    if version < 14 {
        return None;
    }
    match body[..2] {
        [0x00, 0x50] => {
            let &[sequence, _physical, sub_uni, net, high, low] = body.get(4..10)?.first_chunk()?;
            let said = usize::from(u16::from_be_bytes([high, low])).min(512);
            let slots = &body[10..];
            let slots = &slots[..said.min(slots.len())];
            let port_address = u16::from_le_bytes([sub_uni, net]) & 0x7FFF;
            (!slots.is_empty()).then_some(Packet::Dmx {
                sequence,
                port_address,
                slots,
            })
        }
        [0x00, 0x52] => Some(Packet::Sync),
        [0x00, 0x20] => {
            let &[flags, _priority] = body.get(4..6)?.first_chunk()?;
            let field = |at: usize| Some(u16::from_be_bytes([*body.get(at)?, *body.get(at + 1)?]));
            // Flags bit 5: only nodes with an output from bottom to top shall answer.
            let wanted = match (flags & 0x20 != 0, field(6), field(8)) {
                (true, Some(top), Some(bottom)) => bottom..=top,
                _ => 0..=u16::MAX,
            };
            Some(Packet::Poll { wanted })
        }
        _ => None,
    }
}
