//! `[network]`, `[[pin]]` and `[standby]`: whom litfloor listens to, and who stands by for it.

use std::net::{Ipv4Addr, SocketAddrV4};

use super::super::defaults::MOST_SOURCES;
use super::super::draft::{PinDraft, StandbyDraft};
use super::super::entry::Entry;
use super::super::fault::Fault;
use super::super::model::Subnet;
use super::super::sink::At;
use super::super::walk::Keys;
use super::wiring::port_address;
use crate::wire::{PORT, PortAddress};

/// Reads `[network]`.
pub(super) fn sources(keys: &Keys<'_>) -> Vec<Subnet> {
    let Some(entry) = keys.need("sources") else {
        return Vec::new();
    };
    let Some(items) = entry.list() else {
        return Vec::new();
    };
    if items.is_empty() {
        let help = "name the networks that may send, or take the list out: then all may";
        let message = "a list of sources without any";
        keys.fault(Fault::new("empty-list", &entry.span(), message, help));
    }
    if items.len() > MOST_SOURCES {
        let message = format!("{} sources; {MOST_SOURCES} is the most", items.len());
        let help = "name networks like \"192.168.10.0/24\" in the place of single addresses";
        keys.fault(Fault::new("too-many", &entry.span(), message, help));
        return Vec::new();
    }
    let read = |item: &Entry<'_>| item.parsed("bad-network", Subnet::read);
    items.iter().filter_map(read).map(|at| at.value).collect()
}

/// Reads a `[[pin]]`.
pub(super) fn pin(keys: &Keys<'_>) -> PinDraft {
    let most = i64::from(PortAddress::MAX) + 1;
    PinDraft {
        start: keys.need("start").and_then(|entry| port_address(&entry)),
        universes: keys
            .get("universes")
            .map_or(Some(1), |entry| entry.whole(&(1..=most)).map(|at| at.value)),
        source: keys.need("source").and_then(|entry| address(&entry)),
    }
}

/// Reads `[standby]`.
pub(super) fn standby(keys: &Keys<'_>) -> Option<StandbyDraft> {
    let listener = |key| keys.need(key).and_then(|entry| listener(&entry));
    let (first, second) = (listener("first"), listener("second"));
    let (first, second) = (first?, second?);
    if first.value == second.value {
        let message = "`first` and `second` of [standby] are the same";
        let help = "give the address of the other machine: one alone can't stand by for itself";
        keys.fault(Fault::new("same-standby", &second.span, message, help));
        return None;
    }
    Some(StandbyDraft { first, second })
}

fn address(entry: &Entry<'_>) -> Option<At<Ipv4Addr>> {
    entry.parsed("bad-address", |text| {
        text.parse::<Ipv4Addr>().map_err(
            |_| "an IPv4 address is four numbers from 0 to 255, for example \"192.168.10.5\"",
        )
    })
}

/// An address where litfloor listens, with or without its UDP port.
fn listener(entry: &Entry<'_>) -> Option<At<SocketAddrV4>> {
    entry.parsed("bad-address", |text| {
        let alone = |ip| SocketAddrV4::new(ip, PORT);
        let read = text.parse().or_else(|_| text.parse().map(alone));
        let one = |address: &SocketAddrV4| {
            let ip = address.ip();
            !(ip.is_unspecified() || ip.is_broadcast() || ip.is_multicast()) && address.port() > 0
        };
        read.ok().filter(one).ok_or(
            "it is the address of one machine, for example \"192.168.10.2\", with its UDP port if that \
             is not 6454: \"192.168.10.2:6455\"",
        )
    })
}
