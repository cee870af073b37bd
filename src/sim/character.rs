//! What kind of node a simulated one is.

use std::net::SocketAddrV4;

use crate::wire::PortAddress;

/// What kind of node it is.
#[derive(Debug, Clone)]
pub struct Character {
    /// Short name, at most 17 bytes.
    pub short_name: String,
    /// Long name, at most 63 bytes.
    pub long_name: String,
    /// Where it says it can be reached.
    pub address: SocketAddrV4,
    /// Universes that it outputs, one a port.
    pub outputs: Vec<PortAddress>,
    /// Whether it waits for `ArtSync` once it has seen one.
    pub syncs: bool,
    /// Whether it drops packets whose sequence number is old.
    pub orders: bool,
}
