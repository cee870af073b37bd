//! `ArtDmx` (0x5000): the slots of one universe, read in place.
//!
//! ```text
//!  0 "Art-Net\0"   8 OpCode 0x5000 (little endian)   10 ProtVer (big endian, 14 or higher)
//! 12 Sequence     13 Physical   14 SubUni   15 Net   16 Length (big endian)   18 slots
//! ```

use super::{ID, PortAddress};

/// OpCode of `ArtDmx`.
pub const OP_DMX: u16 = 0x5000;

/// Bytes before the slots.
pub const HEADER: usize = 18;

/// The largest datagram that is written: header and 512 slots.
pub const LARGEST: usize = HEADER + 512;

/// An `ArtDmx` packet whose slots lie where the datagram was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Dmx<'a> {
    /// 1 to 255, or 0 when the sender does not number its packets.
    pub sequence: u8,
    /// The sender's physical input, to tell two sources at one address apart.
    pub physical: u8,
    /// Which universe.
    pub port_address: PortAddress,
    /// 1 to 512 slots, as many as the Length field and the datagram both have.
    pub slots: &'a [u8],
}

/// Writes an `ArtDmx` into `buffer` and returns its bytes.
///
/// `slots` must be 1 to 512; an odd number is made even with a slot at 0, as the specification
/// asks of senders.
pub fn write<'b>(
    buffer: &'b mut [u8; LARGEST],
    sequence: u8,
    physical: u8,
    port_address: PortAddress,
    slots: &[u8],
) -> &'b [u8] {
    let even = slots.len() + slots.len() % 2;
    buffer[..8].copy_from_slice(&ID);
    buffer[8..10].copy_from_slice(&OP_DMX.to_le_bytes());
    buffer[10..12].copy_from_slice(&14_u16.to_be_bytes());
    buffer[12] = sequence;
    buffer[13] = physical;
    buffer[14..16].copy_from_slice(&port_address.number().to_le_bytes());
    #[expect(clippy::cast_possible_truncation, reason = "512 at most")]
    buffer[16..18].copy_from_slice(&(even as u16).to_be_bytes());
    buffer[HEADER + even - 1] = 0;
    buffer[HEADER..HEADER + slots.len()].copy_from_slice(slots);
    &buffer[..HEADER + even]
}
