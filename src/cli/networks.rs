//! Whether frames from this machine can get to the nodes: what a look at its networks tells.

use std::collections::BTreeMap;
use std::net::Ipv4Addr;

use super::summary::counted;
use crate::engine::holds;
use crate::floor::model::Node;

/// Nodes that are named one by one.
const MOST_NAMED: usize = 6;

/// Cautions about addresses of nodes. `own` are the addresses of this machine with their masks.
/// A floor file may well be checked elsewhere than where it will run.
pub(super) fn cautions(nodes: &[Node], own: &[(Ipv4Addr, Ipv4Addr)]) -> Vec<String> {
    let mut cautions: Vec<String> = outside(nodes, own).into_iter().collect();
    cautions.extend(special(nodes, own));
    cautions
}

/// That some lie in no network of this machine.
fn outside(nodes: &[Node], own: &[(Ipv4Addr, Ipv4Addr)]) -> Option<String> {
    let outside = nodes.iter().filter(|node| {
        let mut own = own.iter();
        !own.any(|network| holds(*network, *node.address.ip()))
    });
    let outside: Vec<String> = outside
        .map(|node| format!("{} ({})", node.name, node.address.ip()))
        .collect();
    if outside.is_empty() {
        return None;
    }
    let mut networks: Vec<String> = own
        .iter()
        .filter(|(address, _)| !address.is_loopback())
        .map(|(address, mask)| network(*address, *mask))
        .collect();
    networks.sort();
    networks.dedup();
    let networks = if networks.is_empty() {
        "this machine is in no network now".to_owned()
    } else {
        format!("this machine is in {}", networks.join(", "))
    };
    Some(format!(
        "{} in no network of this machine: {}; {networks}. Is litfloor to run here? Then look \
         at cable, address and mask on both sides",
        if outside.len() == 1 {
            "1 node lies".to_owned()
        } else {
            format!("{} lie", counted(outside.len() as u64, "node"))
        },
        named(&outside),
    ))
}

/// Nodes whose addresses can't be those of machines, with what they are instead.
pub(super) fn special(nodes: &[Node], own: &[(Ipv4Addr, Ipv4Addr)]) -> Vec<String> {
    let mut special: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for node in nodes {
        let ip = *node.address.ip();
        let told = format!("{} ({ip})", node.name);
        let Some((address, mask)) = own.iter().find(|network| holds(**network, ip)) else {
            continue;
        };
        // A network of one or two addresses has none to spare (RFC 3021).
        let one_machine = u32::from(*mask).count_zeros() < 2 || ip.is_loopback();
        let host = u32::from(ip) & !u32::from(*mask);
        let what = match host {
            0 => "the address of the network itself",
            host if host == !u32::from(*mask) => "the broadcast address",
            _ => continue,
        };
        if !one_machine {
            let network = network(*address, *mask);
            special
                .entry(format!("{what} of {network}"))
                .or_default()
                .push(told);
        }
    }
    let mut cautions = Vec::new();
    for (what, nodes) in special {
        let verb = if nodes.len() == 1 { "has" } else { "have" };
        cautions.push(format!(
            "{} {verb} {what}, which is no machine's: nothing will arrive there alone, look at the \
             node's own address",
            named(&nodes)
        ));
    }
    cautions
}

/// `192.168.1.0/24`.
fn network(address: Ipv4Addr, mask: Ipv4Addr) -> String {
    let first = Ipv4Addr::from(u32::from(address) & u32::from(mask));
    format!("{first}/{}", u32::from(mask).leading_ones())
}

/// A few by name and the number of the others.
pub(super) fn named(names: &[String]) -> String {
    let few = names[..names.len().min(MOST_NAMED)].join(", ");
    match names.len().saturating_sub(MOST_NAMED) {
        0 => few,
        more => format!("{few} and {more} more"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn nodes(addresses: &[&str]) -> Vec<Node> {
        let node = |(at, address): (usize, &&str)| Node {
            name: format!("n{at}"),
            address: format!("{address}:6454").parse().unwrap(),
        };
        addresses.iter().enumerate().map(node).collect()
    }

    fn told(addresses: &[&str], own: &[(&str, &str)]) -> Vec<String> {
        let own: Vec<_> = own
            .iter()
            .map(|(ip, mask)| (ip.parse().unwrap(), mask.parse().unwrap()))
            .collect();
        cautions(&nodes(addresses), &own)
    }

    const LOOPBACK: (&str, &str) = ("127.0.0.1", "255.0.0.0");

    #[test]
    fn nodes_in_a_network_of_this_machine_are_not_spoken_of() {
        let own = [
            LOOPBACK,
            ("10.1.2.3", "255.255.255.0"),
            ("2.0.0.1", "255.0.0.0"),
        ];
        assert!(told(&["10.1.2.9", "2.200.1.1", "127.0.0.9"], &own).is_empty());
        // RFC 3021: both addresses of a /31 are machines.
        let pair = [("10.0.0.0", "255.255.255.254")];
        assert!(told(&["10.0.0.0", "10.0.0.1"], &pair).is_empty());
    }

    #[test]
    fn nodes_elsewhere_are_told_together_with_the_networks() {
        let own = [LOOPBACK, ("10.1.2.3", "255.255.255.0")];
        let told_both = told(&["10.1.3.1", "10.1.2.1", "192.168.1.5"], &own);
        assert_eq!(told_both.len(), 1);
        let told_both = &told_both[0];
        assert!(
            told_both.starts_with(
                "2 nodes lie in no network of this machine: n0 (10.1.3.1), n2 (192.168.1.5); this \
                 machine is in 10.1.2.0/24."
            ),
            "{told_both}"
        );
        let alone = told(&["10.1.3.1"], &[LOOPBACK]);
        assert!(alone[0].contains("is in no network now"), "{alone:?}");
        let many: Vec<&str> = std::iter::repeat_n("9.9.9.9", 20).collect();
        assert!(told(&many, &own)[0].contains("n5 (9.9.9.9) and 14 more;"));
    }

    #[test]
    fn addresses_that_are_no_machines_are_told() {
        // RFC 919 and 922: all host bits set is the broadcast address; none, the network.
        let own = [LOOPBACK, ("10.1.2.3", "255.255.252.0")];
        let found = told(&["10.1.3.255", "10.1.0.0", "10.1.2.255", "10.1.1.0"], &own);
        assert_eq!(found.len(), 2);
        assert!(
            found[0]
                .starts_with("n1 (10.1.0.0) has the address of the network itself of 10.1.0.0/22")
        );
        assert!(found[1].starts_with("n0 (10.1.3.255) has the broadcast address of 10.1.0.0/22"));
    }
}
