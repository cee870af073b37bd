//! `ArtDmx` (0x5000): the slots of one universe, read in place.
//!
//! ```text
//!  0 "Art-Net\0"   8 OpCode 0x5000 (little endian)   10 ProtVer (big endian, 14 or higher)
//! 12 Sequence     13 Physical   14 SubUni   15 Net   16 Length (big endian)   18 slots
//! ```

use super::{ID, PortAddress, Refusal};

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

impl<'a> Dmx<'a> {
    /// Reads what follows the common header. The Length field rules: more bytes than it says
    /// are ignored. Lengths that are odd or shorter than 512 are taken, for real senders use them.
    ///
    /// # Errors
    /// [`Refusal::Truncated`] when the datagram is shorter than it says, [`Refusal::BadLength`]
    /// for a length of 0 or over 512, [`Refusal::BadAddress`] when Net has more than 7 bits.
    pub(super) fn read(bytes: &'a [u8]) -> Result<Self, Refusal> {
        let Some((header, rest)) = bytes.split_first_chunk::<HEADER>() else {
            return Err(Refusal::Truncated);
        };
        let length = usize::from(u16::from_be_bytes([header[16], header[17]]));
        if length == 0 || length > 512 {
            return Err(Refusal::BadLength);
        }
        let port_address = PortAddress::new(u16::from_le_bytes([header[14], header[15]]))
            .ok_or(Refusal::BadAddress)?;
        Ok(Self {
            sequence: header[12],
            physical: header[13],
            port_address,
            slots: rest.get(..length).ok_or(Refusal::Truncated)?,
        })
    }
}

/// The Port-Address of a datagram if it should turn out to be an `ArtDmx`.
pub fn address_at_a_glance(bytes: &[u8]) -> Option<PortAddress> {
    let &[low, high] = bytes.get(14..16)? else {
        return None;
    };
    PortAddress::new(u16::from_le_bytes([low, high]))
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
    buffer[..HEADER].copy_from_slice(&header(sequence, physical, port_address, even));
    buffer[HEADER + even - 1] = 0;
    buffer[HEADER..HEADER + slots.len()].copy_from_slice(slots);
    &buffer[..HEADER + even]
}

/// What stands before the slots, of which there are `slots`: an even number, 2 to 512.
pub fn header(sequence: u8, physical: u8, port_address: PortAddress, slots: usize) -> [u8; HEADER] {
    let mut header = [0; HEADER];
    header[..8].copy_from_slice(&ID);
    header[8..10].copy_from_slice(&OP_DMX.to_le_bytes());
    header[10..12].copy_from_slice(&14_u16.to_be_bytes());
    header[12] = sequence;
    header[13] = physical;
    header[14..16].copy_from_slice(&port_address.number().to_le_bytes());
    #[expect(clippy::cast_possible_truncation, reason = "512 at most")]
    header[16..18].copy_from_slice(&(slots as u16).to_be_bytes());
    header
}

#[cfg(test)]
mod tests {
    use artnet_protocol::ArtCommand;

    use super::*;
    use crate::wire::testing::unhex;
    use crate::wire::{Packet, read};

    fn dmx(bytes: &[u8]) -> Result<Dmx<'_>, Refusal> {
        match read(bytes)? {
            Packet::Dmx(dmx) => Ok(dmx),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn reads_vectors_that_tshark_dissects_alike() {
        // Golden bytes, decoded with tshark 4.0.17: universe 0:1:0, 2 slots, sequence 1.
        let bytes = unhex("4172742d4e6574000050000e010001000002ff80");
        let packet = dmx(&bytes).unwrap();
        assert_eq!(packet.sequence, 1);
        assert_eq!(packet.port_address.number(), 0x0001);
        assert_eq!(packet.slots, [0xff, 0x80]);
        // Physical 3, Port-Address 0x0532 = 5:3:2, sequence 255.
        let bytes = unhex("4172742d4e6574000050000eff033205000401020304");
        let packet = dmx(&bytes).unwrap();
        assert_eq!((packet.sequence, packet.physical), (255, 3));
        assert_eq!(packet.port_address.to_string(), "5:3:2");
        // An odd length, as real libraries send it.
        let bytes = unhex("4172742d4e6574000050000e0000070000050102030405");
        assert_eq!(dmx(&bytes).unwrap().slots, [1, 2, 3, 4, 5]);
    }

    #[test]
    fn the_length_field_rules() {
        let mut buffer = [0; LARGEST];
        let good = write(&mut buffer, 1, 0, PortAddress::new(7).unwrap(), &[9; 6]).to_vec();
        let with_length = |length: u16, cut: usize| {
            let mut bytes = good.clone();
            bytes[16..18].copy_from_slice(&length.to_be_bytes());
            bytes.truncate(cut);
            bytes
        };
        assert_eq!(dmx(&with_length(2, 24)).unwrap().slots, [9, 9]);
        assert_eq!(dmx(&with_length(0, 24)), Err(Refusal::BadLength));
        assert_eq!(dmx(&with_length(513, 24)), Err(Refusal::BadLength));
        assert_eq!(dmx(&with_length(7, 24)), Err(Refusal::Truncated));
        assert_eq!(dmx(&with_length(6, 17)), Err(Refusal::Truncated));
        let mut far = good.clone();
        far[15] = 0x80;
        assert_eq!(dmx(&far), Err(Refusal::BadAddress));
        let mut old = good.clone();
        old[11] = 13;
        assert_eq!(dmx(&old), Err(Refusal::BadVersion));
        let mut newer = good;
        newer[11] = 15;
        assert!(dmx(&newer).is_ok());
    }

    #[test]
    fn an_independent_library_reads_what_is_written() {
        let mut buffer = [0xAA; LARGEST];
        let address = PortAddress::new(0x1234).unwrap();
        let bytes = write(&mut buffer, 200, 5, address, &[1, 2, 3]);
        assert_eq!(bytes.len(), HEADER + 4);
        let ArtCommand::Output(output) = ArtCommand::from_buffer(bytes).unwrap() else {
            panic!("not an ArtDmx");
        };
        assert_eq!((output.sequence, output.physical), (200, 5));
        assert_eq!(u16::from(output.port_address), 0x1234);
        assert_eq!(output.data.as_ref(), &[1, 2, 3, 0]);
    }
}
