//! Nodes of the floor file: which of them answer, and what they say of themselves.
//!
//! Art-Net 4: a controller polls every 2.5 to 3 s, and a node answers within 3 s. A node that
//! leaves three polls unanswered is called silent: a single datagram may be lost.

use std::collections::BTreeMap;
use std::net::{Ipv4Addr, SocketAddrV4};

use super::look::NodeSeen;
use super::snapshot::{NodePort, NodeState, Stranger};
use crate::floor::model::Node;
use crate::units::Time;
use crate::wire::PortAddress;
use crate::wire::poll_reply::{Direction, PollReply};

/// Time between two polls.
pub const POLL_EVERY_MS: u64 = 2_800;

/// A node that has not answered for so long is silent: three polls and the time to answer.
pub const SILENT_AFTER_MS: u64 = 3 * POLL_EVERY_MS + 1_000;

/// Unknown nodes that are remembered; the longest silent gives way.
const MOST_STRANGERS: usize = 32;

/// Replies of one node that are remembered, 4 ports each.
const MOST_PAGES: usize = 64;

/// A reply page that was not repeated for so long is forgotten.
const PAGE_LASTS_MS: u64 = 4 * POLL_EVERY_MS;

/// All nodes.
#[derive(Debug)]
pub(super) struct Nodes {
    own: Vec<Known>,
    /// By address, ascending.
    at: Vec<(SocketAddrV4, usize)>,
    strangers: Vec<(Ipv4Addr, String, Time)>,
}

#[derive(Debug, Clone)]
struct Known {
    name: String,
    address: SocketAddrV4,
    last_reply: Option<Time>,
    online: bool,
    pages: BTreeMap<u8, (PollReply, Time)>,
    frames_out: u64,
    send_errors: u64,
    last_send_error: Option<Time>,
}

impl Nodes {
    pub(super) fn new(nodes: &[Node]) -> Self {
        let mut at: Vec<_> = nodes.iter().map(|node| node.address).zip(0..).collect();
        at.sort_unstable();
        let own = nodes
            .iter()
            .map(|node| Known {
                name: node.name.clone(),
                address: node.address,
                last_reply: None,
                online: false,
                pages: BTreeMap::new(),
                frames_out: 0,
                send_errors: 0,
                last_send_error: None,
            })
            .collect();
        Self {
            own,
            at,
            strangers: Vec::new(),
        }
    }

    /// Takes over what is known of nodes at the same addresses, and of strangers that are none now.
    pub(super) fn take_over(&mut self, before: &Self) {
        for node in &mut self.own {
            let known = before.own.iter().find(|old| old.address == node.address);
            if let Some(known) = known {
                let name = std::mem::take(&mut node.name);
                *node = Known {
                    name,
                    ..known.clone()
                };
            }
        }
        let own = |ip: &Ipv4Addr| self.own.iter().any(|node| node.address.ip() == ip);
        let strangers = before.strangers.iter();
        self.strangers = strangers.filter(|(ip, _, _)| !own(ip)).cloned().collect();
    }

    /// Nodes that did answer, and answer no more.
    pub(super) fn silent(&self) -> Vec<usize> {
        let nodes = self.own.iter().enumerate();
        let silent = nodes.filter(|(_, node)| !node.online && node.last_reply.is_some());
        silent.map(|(at, _)| at).collect()
    }

    /// Whether each answers, and when it did last.
    pub(super) fn seen(&self) -> impl Iterator<Item = NodeSeen> {
        self.own.iter().map(|node| NodeSeen {
            online: node.online,
            replied: node.last_reply,
        })
    }

    pub(super) fn addresses(&self) -> impl Iterator<Item = SocketAddrV4> {
        self.own.iter().map(|node| node.address)
    }

    pub(super) fn address(&self, node: usize) -> SocketAddrV4 {
        self.own[node].address
    }

    /// Whether a node lies at this address.
    pub(super) fn has(&self, ip: Ipv4Addr) -> bool {
        // By address, and by port within it.
        let first = self.at.partition_point(|(address, _)| *address.ip() < ip);
        self.at
            .get(first)
            .is_some_and(|(address, _)| *address.ip() == ip)
    }

    pub(super) fn len(&self) -> usize {
        self.own.len()
    }

    /// Counts a frame to a node, and whether the system took it.
    pub(super) fn count(&mut self, node: usize, taken: bool, now: Time) {
        let node = &mut self.own[node];
        if taken {
            node.frames_out += 1;
        } else {
            node.send_errors += 1;
            node.last_send_error = Some(now);
        }
    }

    /// The system did not take a datagram that was counted as taken: tells `each` of the nodes at its
    /// address.
    pub(super) fn refused(&mut self, to: SocketAddrV4, now: Time, mut each: impl FnMut(usize)) {
        let first = self.at.partition_point(|&(address, _)| address < to);
        let last = self.at.partition_point(|&(address, _)| address <= to);
        for &(_, at) in &self.at[first..last] {
            let node = &mut self.own[at];
            node.frames_out = node.frames_out.saturating_sub(1);
            node.send_errors += 1;
            node.last_send_error = Some(now);
            each(at);
        }
    }

    /// Takes a reply. Gives the index of the node if it is one of the file's.
    pub(super) fn reply(
        &mut self,
        from: SocketAddrV4,
        reply: PollReply,
        now: Time,
    ) -> Option<usize> {
        let exact = self.own.iter().position(|node| node.address == from);
        // Some nodes answer from another port: the address is enough if it is unambiguous.
        let found = exact.or_else(|| {
            let mut alike = self
                .own
                .iter()
                .enumerate()
                .filter(|(_, n)| n.address.ip() == from.ip());
            match (alike.next(), alike.next()) {
                (Some((at, _)), None) => Some(at),
                _ => None,
            }
        });
        let Some(at) = found else {
            self.meet(*from.ip(), reply.short_name, now);
            return None;
        };
        let node = &mut self.own[at];
        node.last_reply = Some(now);
        node.online = true;
        node.pages
            .retain(|_, (_, at)| now.us_since(*at) < PAGE_LASTS_MS * 1_000);
        if node.pages.len() < MOST_PAGES || node.pages.contains_key(&reply.bind_index) {
            node.pages.insert(reply.bind_index, (reply, now));
        }
        Some(at)
    }

    fn meet(&mut self, address: Ipv4Addr, name: String, now: Time) {
        self.strangers.retain(|(known, _, _)| *known != address);
        if self.strangers.len() == MOST_STRANGERS {
            self.strangers.remove(0);
        }
        self.strangers.push((address, name, now));
    }

    /// Nodes that have fallen silent since the last call.
    pub(super) fn fallen_silent(&mut self, now: Time) -> Vec<usize> {
        let mut silent = Vec::new();
        for (at, node) in self.own.iter_mut().enumerate() {
            let since = node.last_reply.map(|last| now.us_since(last));
            if node.online && since.is_some_and(|us| us > SILENT_AFTER_MS * 1_000) {
                node.online = false;
                silent.push(at);
            }
        }
        silent
    }

    pub(super) fn strangers(&self, now: Time) -> Vec<Stranger> {
        self.strangers
            .iter()
            .map(|(address, name, at)| Stranger {
                address: address.to_string(),
                short_name: name.clone(),
                last_reply_s: now.s_since(*at),
            })
            .collect()
    }

    /// What people see of one node, given the universes that the file sends to it.
    pub(super) fn state(&self, at: usize, sends: &[PortAddress], now: Time) -> NodeState {
        let node = &self.own[at];
        let root = node.pages.values().next().map(|(reply, _)| reply);
        let mut ports = Vec::new();
        for (reply, _) in node.pages.values() {
            ports.extend(reply.ports.iter().copied());
        }
        let outputs = |address: PortAddress| {
            ports
                .iter()
                .any(|p| p.direction == Direction::Output && p.port_address == address)
        };
        let not_listed = if node.online {
            sends
                .iter()
                .filter(|&&address| !outputs(address))
                .map(ToString::to_string)
                .collect()
        } else {
            Vec::new()
        };
        NodeState {
            name: node.name.clone(),
            address: node.address.to_string(),
            online: node.online,
            last_reply_s: node.last_reply.map(|last| now.s_since(last)),
            short_name: root
                .map(|reply| reply.short_name.clone())
                .unwrap_or_default(),
            long_name: root
                .map(|reply| reply.long_name.clone())
                .unwrap_or_default(),
            firmware: root
                .map(|reply| format!("{}.{}", reply.version[0], reply.version[1]))
                .unwrap_or_default(),
            report: root.map(|reply| reply.report.clone()).unwrap_or_default(),
            ports: ports
                .iter()
                .map(|port| NodePort {
                    direction: match port.direction {
                        Direction::Output => "output".into(),
                        Direction::Input => "input".into(),
                    },
                    port_address: port.port_address.to_string(),
                    active: port.active,
                    short_circuit: port.short_circuit,
                })
                .collect(),
            sends: sends.iter().map(ToString::to_string).collect(),
            not_listed,
            frames_out: node.frames_out,
            send_errors: node.send_errors,
            last_send_error_s: node.last_send_error.map(|at| now.s_since(at)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::wire::poll_reply::Port;

    fn reply(bind_index: u8, universe: u16) -> PollReply {
        PollReply {
            address: Ipv4Addr::LOCALHOST,
            version: [1, 2],
            short_name: "n".into(),
            long_name: String::new(),
            report: String::new(),
            bind_index,
            ports: vec![Port {
                direction: Direction::Output,
                port_address: PortAddress::new(universe).unwrap(),
                active: true,
                short_circuit: false,
            }],
        }
    }

    fn nodes() -> Nodes {
        let node = |name: &str, port| Node {
            name: name.into(),
            address: SocketAddrV4::new(Ipv4Addr::new(10, 0, 0, port), 6454),
        };
        Nodes::new(&[node("north", 1), node("south", 2)])
    }

    #[test]
    fn replies_make_a_node_online_until_three_polls_are_unanswered() {
        let mut nodes = nodes();
        assert!(
            nodes.fallen_silent(Time::from_s(100)).is_empty(),
            "it never answered"
        );
        let from = SocketAddrV4::new(Ipv4Addr::new(10, 0, 0, 2), 6454);
        assert_eq!(nodes.reply(from, reply(1, 1), Time::from_s(100)), Some(1));
        nodes.reply(from, reply(2, 5), Time::from_s(100));
        let universes = [1, 5, 6].map(|n| PortAddress::new(n).unwrap());
        let state = nodes.state(1, &universes, Time::from_s(101));
        assert!(state.online);
        assert_eq!(state.firmware, "1.2");
        assert_eq!(state.ports.len(), 2);
        assert_eq!(state.not_listed, ["0:0:6"]);
        assert!(nodes.fallen_silent(Time::from_s(109)).is_empty());
        assert_eq!(nodes.fallen_silent(Time::from_s(110)), [1]);
        assert!(
            nodes.fallen_silent(Time::from_s(111)).is_empty(),
            "said once"
        );
        assert!(!nodes.state(1, &universes, Time::from_s(111)).online);
    }

    #[test]
    fn strangers_are_few() {
        let mut nodes = nodes();
        for n in 0..100 {
            let from = SocketAddrV4::new(Ipv4Addr::new(10, 1, 0, n), 6454);
            assert_eq!(nodes.reply(from, reply(1, 1), Time::from_s(1)), None);
        }
        let strangers = nodes.strangers(Time::from_s(2));
        assert_eq!(strangers.len(), MOST_STRANGERS);
        assert_eq!(strangers.last().unwrap().address, "10.1.0.99");
    }

    #[test]
    fn a_reply_from_another_port_is_known_by_its_address() {
        let mut nodes = nodes();
        let from = SocketAddrV4::new(Ipv4Addr::new(10, 0, 0, 1), 50_000);
        assert_eq!(nodes.reply(from, reply(0, 1), Time::from_s(1)), Some(0));
    }
}
