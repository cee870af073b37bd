//! Art-Net packets to and from bytes.

pub mod dmx;
mod port_address;

pub use port_address::{NotAPortAddress, PortAddress};

/// First eight bytes of every packet.
pub const ID: [u8; 8] = *b"Art-Net\0";

/// The UDP port of Art-Net.
pub const PORT: u16 = 6454;
