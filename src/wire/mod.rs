//! Art-Net packets to and from bytes (Art-Net 4).
//!
//! `ArtDmx` and `ArtSync`, which make up the frame path, are read in place by our own code: no
//! copy, no allocation. Polls and their replies go through the `artnet_protocol` crate where it
//! can (see [`poll`] and [`poll_reply`] for where it can't).

pub mod beat;
pub mod dmx;
pub mod poll;
pub mod poll_reply;
mod port_address;
pub mod sync;
#[cfg(test)]
pub(crate) mod testing;

pub use port_address::{NotAPortAddress, PortAddress};

use dmx::Dmx;
use poll::Poll;
use poll_reply::PollReply;

/// First eight bytes of every packet.
pub const ID: [u8; 8] = *b"Art-Net\0";

/// The UDP port of Art-Net.
pub const PORT: u16 = 6454;

/// The lowest protocol version that is understood.
const PROTOCOL_VERSION: u16 = 14;

/// What a datagram is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Packet<'a> {
    /// The slots of one universe.
    Dmx(Dmx<'a>),
    /// Show now what was sent before.
    Sync,
    /// Who is there?
    Poll(Poll),
    /// I am.
    PollReply(Box<PollReply>),
    /// A packet of the standard that litfloor has no use for.
    Other(u16),
}

/// Why a datagram is not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// It does not begin with `Art-Net`.
    #[error("it is not Art-Net")]
    NotArtNet,
    /// It ends before its own length says so.
    #[error("it ends too early")]
    Truncated,
    /// Its protocol version is lower than 14.
    #[error("its protocol version is lower than 14")]
    BadVersion,
    /// Its Length field is 0 or over 512.
    #[error("its Length is 0 or over 512")]
    BadLength,
    /// Its Net has more than 7 bits.
    #[error("its Port-Address has more than 15 bits")]
    BadAddress,
    /// Its OpCode is none of the standard's.
    #[error("its OpCode is unknown")]
    UnknownOpcode,
}

/// Other codes of the standard that are recognised and passed over (Art-Net 4, from memory).
const OTHERS: [u16; 29] = [
    0x2300, 0x2400, 0x5100, 0x6000, 0x7000, 0x8000, 0x8100, 0x8200, 0x8300, 0x8400, 0x9000, 0x9100,
    0x9200, 0x9300, 0x9700, 0x9800, 0x9900, 0x9A00, 0x9B00, 0xA010, 0xA020, 0xA040, 0xF000, 0xF100,
    0xF200, 0xF300, 0xF400, 0xF800, 0xF900,
];

/// Reads one datagram.
///
/// # Errors
/// A [`Refusal`] that says why it is not taken.
pub fn read(bytes: &[u8]) -> Result<Packet<'_>, Refusal> {
    let Some(rest) = bytes.strip_prefix(&ID) else {
        return Err(Refusal::NotArtNet);
    };
    let Some(opcode) = rest.first_chunk::<2>() else {
        return Err(Refusal::Truncated);
    };
    let opcode = u16::from_le_bytes(*opcode);
    // ArtPollReply alone has no ProtVer.
    if opcode == poll_reply::OP_POLL_REPLY {
        return PollReply::read(bytes).map(|reply| Packet::PollReply(Box::new(reply)));
    }
    let Some(version) = rest.get(2..4) else {
        return Err(Refusal::Truncated);
    };
    if u16::from_be_bytes([version[0], version[1]]) < PROTOCOL_VERSION {
        return Err(Refusal::BadVersion);
    }
    match opcode {
        dmx::OP_DMX => Dmx::read(bytes).map(Packet::Dmx),
        sync::OP_SYNC => Ok(Packet::Sync),
        poll::OP_POLL => Poll::read(bytes).map(Packet::Poll),
        other if OTHERS.contains(&other) => Ok(Packet::Other(other)),
        _ => Err(Refusal::UnknownOpcode),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::testing::unhex;
    use super::*;

    #[test]
    fn says_what_a_datagram_is() {
        // Golden bytes, decoded with tshark 4.0.17.
        assert_eq!(
            read(&unhex("4172742d4e6574000052000e0000")),
            Ok(Packet::Sync)
        );
        let timecode = unhex("4172742d4e6574000097000e00000c22380703");
        assert_eq!(read(&timecode), Ok(Packet::Other(0x9700)));
        let unknown = unhex("4172742d4e6574003412000e0000");
        assert_eq!(read(&unknown), Err(Refusal::UnknownOpcode));
        assert_eq!(read(b""), Err(Refusal::NotArtNet));
        assert_eq!(read(b"Art-Net"), Err(Refusal::NotArtNet));
        assert_eq!(read(b"Art-Net\0\0"), Err(Refusal::Truncated));
        assert_eq!(read(b"Art-Net\0\0\x50\0"), Err(Refusal::Truncated));
    }

    proptest! {
        #[test]
        fn no_bytes_make_it_panic(
            opcode in prop_oneof![
                Just(0x5000_u16), Just(0x5200), Just(0x2000), Just(0x2100), any::<u16>()
            ],
            tail in prop::collection::vec(any::<u8>(), 0..700),
        ) {
            let mut bytes = ID.to_vec();
            bytes.extend(opcode.to_le_bytes());
            bytes.extend(&tail);
            let packet = read(&bytes);
            if let Ok(Packet::Dmx(dmx)) = packet {
                prop_assert!((1..=512).contains(&dmx.slots.len()));
            }
            let _ = read(&tail);
        }
    }
}
