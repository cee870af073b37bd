//! `ArtPoll` (0x2000): who is there?
//!
//! Read by our own code, since the crate names flag 0x10 the wrong way round and drops the flag
//! of a targeted poll; written with the crate.

use artnet_protocol::ArtCommand;

use super::{PortAddress, Refusal};

/// OpCode of `ArtPoll`.
pub const OP_POLL: u16 = 0x2000;

/// The flag of a poll that asks only nodes within a range of Port-Addresses.
const TARGETED: u8 = 1 << 5;

/// An `ArtPoll` packet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Poll {
    /// The range of Port-Addresses (lowest, highest) that should answer; nothing means all.
    pub target: Option<(u16, u16)>,
}

impl Poll {
    /// Reads a poll; 14 bytes are enough (Art-Net 4).
    pub(super) fn read(bytes: &[u8]) -> Result<Self, Refusal> {
        let flags = *bytes.get(12).ok_or(Refusal::Truncated)?;
        if bytes.len() < 14 {
            return Err(Refusal::Truncated);
        }
        let target = match bytes.get(14..18) {
            Some(&[top_hi, top_lo, bottom_hi, bottom_lo]) if flags & TARGETED != 0 => Some((
                u16::from_be_bytes([bottom_hi, bottom_lo]),
                u16::from_be_bytes([top_hi, top_lo]),
            )),
            _ => None,
        };
        Ok(Self { target })
    }

    /// Whether the sender of `port_address` should answer.
    pub fn asks(&self, port_address: PortAddress) -> bool {
        self.target
            .is_none_or(|(lowest, highest)| (lowest..=highest).contains(&port_address.number()))
    }
}

/// The poll that litfloor sends: replies only when asked, no diagnostics. Empty if the crate
/// should ever refuse to write it.
pub fn write() -> Vec<u8> {
    ArtCommand::Poll(artnet_protocol::Poll::default())
        .write_to_buffer()
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire::testing::unhex;
    use crate::wire::{Packet, read};

    #[test]
    fn reads_short_and_targeted_polls() {
        // Golden bytes, decoded with tshark 4.0.17: flags 0x21, top 0x053f, bottom 0x0530.
        let bytes = unhex("4172742d4e6574000020000e2210053f05307ff01234");
        let Ok(Packet::Poll(poll)) = read(&bytes) else {
            panic!("not a poll")
        };
        assert_eq!(poll.target, Some((0x0530, 0x053F)));
        assert!(poll.asks(PortAddress::new(0x0535).unwrap()));
        assert!(!poll.asks(PortAddress::new(0x0540).unwrap()));
        let bytes = unhex("4172742d4e6574000020000e0210");
        assert_eq!(read(&bytes), Ok(Packet::Poll(Poll { target: None })));
        assert_eq!(read(&bytes[..13]), Err(Refusal::Truncated));
    }

    #[test]
    fn writes_what_it_can_read() {
        let bytes = write();
        assert_eq!(bytes.len(), 14);
        assert_eq!(read(&bytes), Ok(Packet::Poll(Poll { target: None })));
    }
}
