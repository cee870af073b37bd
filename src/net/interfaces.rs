//! Networks of this machine.

use std::net::{Ipv4Addr, SocketAddrV4};
use std::time::Duration;

use tokio::sync::watch;

use crate::engine::Interface;

/// An address of this machine, and the interface that has it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    /// What the system calls the interface.
    pub name: String,
    /// The address.
    pub address: Ipv4Addr,
    /// Its mask.
    pub mask: Ipv4Addr,
}

/// IPv4 addresses of this machine with their interfaces; empty if the system does not tell.
pub fn named() -> Vec<Named> {
    let all = if_addrs::get_if_addrs().unwrap_or_default();
    all.into_iter()
        .filter_map(|interface| match interface.addr {
            if_addrs::IfAddr::V4(v4) => Some(Named {
                name: interface.name,
                address: v4.ip,
                mask: v4.netmask,
            }),
            if_addrs::IfAddr::V6(_) => None,
        })
        .collect()
}

/// IPv4 addresses of this machine with their masks; empty if the system does not tell.
pub fn list() -> Vec<Interface> {
    let all = named().into_iter();
    all.map(|named| (named.address, named.mask)).collect()
}

/// Cables are plugged in late, and addresses are given late: they are looked for so often.
const LOOK_EVERY: Duration = Duration::from_secs(10);

/// Keeps the list up to date until nobody wants it any more.
pub async fn follow(current: watch::Sender<Vec<Interface>>) {
    let mut look = tokio::time::interval(LOOK_EVERY);
    loop {
        tokio::select! {
            _ = look.tick() => {
                let now = list();
                current.send_if_modified(|known| {
                    let changed = *known != now;
                    *known = now;
                    changed
                });
            }
            () = current.closed() => return,
        }
    }
}

/// Whether the address of a node leads back to our own listener: frames to it would go round in a
/// circle for ever.
pub fn loops_back(node: SocketAddrV4, listener: SocketAddrV4, own: &[Interface]) -> bool {
    let address: Ipv4Addr = *node.ip();
    let ours = own.iter().any(|(ip, _)| *ip == address) || address.is_loopback();
    let heard = listener.ip().is_unspecified() || *listener.ip() == address;
    node.port() == listener.port() && ours && heard
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_node_that_is_ourselves_is_found() {
        let node = |address: [u8; 4], port| SocketAddrV4::new(address.into(), port);
        let own = [(Ipv4Addr::new(10, 0, 0, 5), Ipv4Addr::new(255, 0, 0, 0))];
        let any = SocketAddrV4::new(Ipv4Addr::UNSPECIFIED, 6454);
        let one = SocketAddrV4::new(Ipv4Addr::LOCALHOST, 6454);
        assert!(!loops_back(node([10, 0, 0, 6], 6454), any, &own));
        assert!(loops_back(node([10, 0, 0, 5], 6454), any, &own));
        assert!(!loops_back(node([10, 0, 0, 5], 6455), any, &own));
        assert!(!loops_back(node([10, 0, 0, 5], 6454), one, &own));
        assert!(loops_back(node([127, 0, 0, 1], 6454), one, &own));
        assert!(loops_back(node([127, 0, 0, 9], 6454), any, &own));
    }
}
