//! `ArtSync` (0x5200): show now what was sent before.

/// OpCode of `ArtSync`.
pub const OP_SYNC: u16 = 0x5200;

/// The whole packet: header, OpCode, version 14, two bytes that are transmitted as zero.
pub const BYTES: [u8; 14] = *b"Art-Net\0\x00\x52\x00\x0e\x00\x00";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire::testing::unhex;

    #[test]
    fn is_the_vector_that_tshark_dissects() {
        assert_eq!(BYTES.to_vec(), unhex("4172742d4e6574000052000e0000"));
    }
}
