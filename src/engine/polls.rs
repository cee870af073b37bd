//! Who is there: polls and the answers to them, ours and those of nodes.

use std::net::{Ipv4Addr, SocketAddrV4};

use super::out::{self, Outlet};
use super::tally::Outcome;
use super::{Engine, Interface};
use crate::units::Time;
use crate::wire::PortAddress;
use crate::wire::poll::Poll;
use crate::wire::poll_reply::{self, Identity, Page, PollReply};

/// Whether an address lies in the network of one of this machine's.
pub fn holds((address, mask): Interface, ip: Ipv4Addr) -> bool {
    let mask = u32::from(mask);
    u32::from(address) & mask == u32::from(ip) & mask
}

impl Engine {
    pub(super) fn poll(
        &mut self,
        now: Time,
        from: SocketAddrV4,
        poll: Poll,
        outlet: &mut impl Outlet,
    ) -> Outcome {
        let asked = |page: &Page| page.universes.iter().any(|&address| poll.asks(address));
        if !self.asks_for_any(poll) {
            // Nobody gets anything, so nobody's right to answers is used up.
            return Outcome::Poll;
        }
        if self.is_standby(*from.ip()) || self.is_pinned(*from.ip()) {
            self.callers.favour_named(*from.ip(), now);
        }
        if !self.callers.may_answer(from, now) {
            return Outcome::PollHeldBack;
        }
        let me = Identity {
            address: self.address_for(*from.ip()),
            short_name: format!("litfloor {}", self.floor.name),
            long_name: format!("litfloor: {}", self.floor.name),
            version: version(),
        };
        let live = |address: PortAddress| {
            self.switches.is_live(address)
                || self
                    .universes
                    .get(self.by_address[usize::from(address.number())] as usize)
                    .and_then(|universe| universe.at)
                    .is_some_and(|at| !self.picture.is_lost(at, now))
        };
        for (page, bind_index) in self.pages.iter().zip(1_usize..) {
            if asked(page) {
                // More than 255 pages don't fit the field; they still list their ports.
                let bind_index = u8::try_from(bind_index).unwrap_or(u8::MAX);
                let reply = poll_reply::write(&me, page, live, bind_index, self.replies);
                out::send_reply(outlet, from, &reply);
            }
        }
        self.replies = self.replies.wrapping_add(1);
        Outcome::Poll
    }

    /// Whether a poll asks for a universe that is here. It costs little however many there are, for nothing
    /// limits how often this is asked.
    fn asks_for_any(&self, poll: Poll) -> bool {
        let lowest = poll.target.map_or(0, |(lowest, _)| lowest);
        let below = |page: &Page| page.universes.iter().all(|at| at.number() < lowest);
        // Pages are in the order of their universes.
        let page = self.pages.get(self.pages.partition_point(below));
        page.is_some_and(|page| page.universes.iter().any(|&address| poll.asks(address)))
    }

    pub(super) fn poll_reply(&mut self, now: Time, from: SocketAddrV4, reply: PollReply) {
        if let Some(standby) = &mut self.standby
            && standby.is_peer(*from.ip())
            && !self.nodes.has(*from.ip())
        {
            standby.peer_answered(now);
        } else if let Some(node) = self.nodes.reply(from, reply, now) {
            self.node_answers(node, true, now);
        }
    }

    /// The networks of this machine are these now.
    pub fn set_interfaces(&mut self, interfaces: Vec<Interface>) {
        self.me.interfaces = interfaces;
    }

    /// The address of this machine that `peer` can reach.
    fn address_for(&self, peer: Ipv4Addr) -> Ipv4Addr {
        let listener = *self.me.listener.ip();
        if !listener.is_unspecified() {
            return listener;
        }
        let mut networks = self.me.interfaces.iter();
        let near = networks.find(|interface| holds(**interface, peer));
        let other = || {
            self.me
                .interfaces
                .iter()
                .find(|(address, _)| !address.is_loopback())
        };
        near.or_else(other)
            .map_or(Ipv4Addr::LOCALHOST, |(address, _)| *address)
    }
}

/// Version of this program, major and minor.
fn version() -> [u8; 2] {
    let number = |text: &str| text.parse().unwrap_or(0);
    [
        number(env!("CARGO_PKG_VERSION_MAJOR")),
        number(env!("CARGO_PKG_VERSION_MINOR")),
    ]
}
