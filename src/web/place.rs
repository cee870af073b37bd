//! Where somebody is, as far as that can be told from an address.

use std::net::{IpAddr, Ipv6Addr};

/// An IPv4 address, or the network of an IPv6 address, since who has one of its addresses has all of
/// them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Place(IpAddr);

impl Place {
    pub(super) fn of(address: IpAddr) -> Self {
        Self(match address.to_canonical() {
            IpAddr::V6(address) => IpAddr::V6(Ipv6Addr::from_bits(
                address.to_bits() & !u128::from(u64::MAX),
            )),
            address @ IpAddr::V4(_) => address,
        })
    }
}

impl std::fmt::Display for Place {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.0 {
            IpAddr::V4(address) => write!(f, "{address}"),
            IpAddr::V6(network) => write!(f, "{network}/64"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_network_of_ipv6_is_one_place() {
        let place = |text: &str| Place::of(text.parse().unwrap());
        assert_eq!(place("2001:db8::1"), place("2001:db8::ffff:2"));
        assert_ne!(place("2001:db8::1"), place("2001:db8:0:1::1"));
        assert_ne!(place("10.0.0.1"), place("10.0.0.2"));
        assert_eq!(place("10.0.0.1"), place("::ffff:10.0.0.1"));
        assert_eq!(place("2001:db8::1").to_string(), "2001:db8::/64");
        assert_eq!(place("::ffff:10.0.0.1").to_string(), "10.0.0.1");
    }
}
