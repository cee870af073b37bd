//! Whom litfloor listens to, and who stands by for it, as the file says it.

use std::net::{Ipv4Addr, SocketAddrV4};
use std::ops::RangeInclusive;

use crate::wire::PortAddress;

/// Whom litfloor listens to. Addresses can be forged on a network that lets in who wants to: this keeps
/// out mistakes and strangers, not who means harm.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct NetworkSettings {
    /// Networks from which a picture, a sync or a poll is taken; with none, from anywhere.
    pub sources: Vec<Subnet>,
    /// Universes that are taken from one address only.
    pub pins: Vec<Pin>,
    /// Two litfloors that stand by for each other.
    pub standby: Option<StandbyPair>,
}

/// A network, or a single address.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Subnet {
    address: Ipv4Addr,
    /// How many bits of it count, 0 to 32.
    prefix: u8,
}

impl Subnet {
    /// Reads `10.0.0.0/24` or `10.0.0.5`.
    ///
    /// # Errors
    /// What it must be instead.
    pub fn read(text: &str) -> Result<Self, String> {
        let wanted = "it must be an address like \"192.168.10.5\" or a network like \
                      \"192.168.10.0/24\"";
        let (address, prefix) = match text.split_once('/') {
            Some((address, prefix)) => (address, prefix.parse().ok()),
            None => (text, Some(32)),
        };
        let (Ok(address), Some(prefix @ 0..=32)) = (address.parse::<Ipv4Addr>(), prefix) else {
            return Err(wanted.to_owned());
        };
        let network = Self { address, prefix };
        let first = Ipv4Addr::from(u32::from(address) & network.mask());
        if first != address {
            return Err(format!(
                "{address} is inside that network and not its beginning: write \"{first}/{prefix}\" for \
                 the network, or \"{address}\" for the one machine"
            ));
        }
        Ok(network)
    }

    fn mask(self) -> u32 {
        // A shift by all 32 bits is none in Rust.
        u32::MAX
            .checked_shl(32 - u32::from(self.prefix))
            .unwrap_or(0)
    }

    /// Whether an address lies in it.
    pub fn has(self, address: Ipv4Addr) -> bool {
        (u32::from(address) ^ u32::from(self.address)) & self.mask() == 0
    }
}

impl std::fmt::Display for Subnet {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.prefix {
            32 => self.address.fmt(f),
            prefix => write!(f, "{}/{prefix}", self.address),
        }
    }
}

/// Universes that are taken from one address only.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pin {
    /// The first of them.
    pub start: PortAddress,
    /// How many, 1 or more; the last is a Port-Address, too.
    pub universes: u16,
    /// From where.
    pub source: Ipv4Addr,
}

impl Pin {
    /// Their numbers.
    pub fn numbers(self) -> RangeInclusive<u16> {
        let first = self.start.number();
        first..=first.saturating_add(self.universes - 1)
    }
}

/// Two litfloors with the same file, by where each listens to Art-Net.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StandbyPair {
    /// Who leads while it can.
    pub first: SocketAddrV4,
    /// Who leads while the first can't.
    pub second: SocketAddrV4,
}

impl NetworkSettings {
    /// Whether a picture, a sync or a poll from this address is taken.
    pub fn admits(&self, from: Ipv4Addr) -> bool {
        self.sources.is_empty() || self.sources.iter().any(|network| network.has(from))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand from the definition of a prefix (RFC 4632, section 3.1).
    #[test]
    fn networks_have_their_addresses_and_no_other() {
        let has = |network: &str, address: &str| {
            Subnet::read(network).unwrap().has(address.parse().unwrap())
        };
        assert!(has("10.0.0.0/24", "10.0.0.255"));
        assert!(!has("10.0.0.0/24", "10.0.1.0"));
        assert!(has("0.0.0.0/0", "203.0.113.9"));
        assert!(has("192.168.1.5", "192.168.1.5"));
        assert!(!has("192.168.1.5/32", "192.168.1.4"));
        assert!(has("10.0.0.128/25", "10.0.0.200"));
        assert!(!has("10.0.0.128/25", "10.0.0.127"));
    }

    #[test]
    fn what_is_no_network_is_refused() {
        for text in [
            "",
            "10.0.0",
            "10.0.0.0/33",
            "10.0.0.0/",
            "10.0.0.0/-1",
            "x",
            "::1/64",
        ] {
            assert!(
                Subnet::read(text).unwrap_err().contains("192.168.10.0/24"),
                "{text}"
            );
        }
        let why = Subnet::read("10.0.0.7/24").unwrap_err();
        assert!(why.contains("\"10.0.0.0/24\""), "{why}");
        let shown = |text: &str| Subnet::read(text).unwrap().to_string();
        assert_eq!(shown("10.0.0.0/8"), "10.0.0.0/8");
        assert_eq!(shown("10.0.0.7/32"), "10.0.0.7");
    }

    #[test]
    fn without_a_list_all_are_admitted() {
        let mut settings = NetworkSettings::default();
        let address = Ipv4Addr::new(10, 1, 2, 3);
        assert!(settings.admits(address));
        settings.sources = vec![Subnet::read("10.0.0.0/16").unwrap()];
        assert!(!settings.admits(address));
        settings.sources.push(Subnet::read("10.1.2.3").unwrap());
        assert!(settings.admits(address));
    }
}
