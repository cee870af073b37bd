//! Pins against each other, against what arrives, and against the networks that may send; who stands
//! by against the nodes.

use std::collections::BTreeMap;
use std::net::SocketAddrV4;

use super::super::draft::{Draft, NodeDraft, PinDraft};
use super::super::fault::{Fault, Span};
use super::super::model::{NetworkSettings, Pin, StandbyPair};
use super::super::sink::Sink;
use super::runs::Occupied;
use crate::wire::PortAddress;

/// Every pin holds a universe that arrives, one that no other pin holds, from who may send.
pub(super) fn check(sink: &Sink, draft: &Draft, taken: &Occupied) {
    let mut held: BTreeMap<u16, &Span> = BTreeMap::new();
    for written in &draft.pins {
        let (Some(start), Some(source)) = (&written.start, &written.source) else {
            continue;
        };
        let Some(universes) = written.universes else {
            continue;
        };
        let last = u32::from(start.value.number()) + u32::from(universes) - 1;
        if last > u32::from(PortAddress::MAX) {
            let message = "the pinned universes go past the last universe 127:15:15";
            let help = "start earlier, or pin fewer universes";
            sink.add(Fault::new("past-last-universe", &start.span, message, help));
            continue;
        }
        let pin = Pin {
            start: start.value,
            universes,
            source: source.value,
        };
        if !draft.sources.is_empty() && !draft.sources.iter().any(|net| net.has(source.value)) {
            let message = format!(
                "{} is pinned, but [network] does not let it send",
                source.value
            );
            let help = "add it to `sources` of [network], or correct it here";
            sink.add(Fault::new("pin-not-admitted", &source.span, message, help));
        }
        let numbers = pin.numbers();
        let arriving = u32::from(*numbers.start())..=u32::from(*numbers.end());
        if taken.arriving.range(arriving).next().is_none() {
            let message = "no picture arrives in the pinned universes, by this file";
            let help = "pin what the console sends: `start` of the runs, or of their `source`";
            sink.add(Fault::new("needless-pin", &start.span, message, help));
        }
        if let Some((number, other)) = held.range(numbers.clone()).next() {
            let address = PortAddress::new(*number).map_or_else(String::new, |a| a.to_string());
            let message = format!("{address} is pinned twice");
            let help = "a universe has one source: leave it out here, or in the other pin";
            let fault = Fault::new("pinned-twice", &start.span, message, help);
            sink.add(fault.and(other, "pinned here already"));
        }
        held.extend(numbers.map(|number| (number, &start.span)));
    }
}

/// No node lies where a litfloor listens: its frames would come back as a picture.
pub(super) fn standby(sink: &Sink, draft: &Draft) {
    let pair = draft
        .standby
        .iter()
        .flat_map(|pair| [&pair.first, &pair.second]);
    for listener in pair {
        let here = |node: &&NodeDraft| {
            let address = node.address.as_ref();
            let socket = address.map(|address| SocketAddrV4::new(address.value, node.port));
            socket == Some(listener.value)
        };
        let Some(address) = draft
            .nodes
            .iter()
            .find(here)
            .and_then(|node| node.address.as_ref())
        else {
            continue;
        };
        let message = format!(
            "a node and a litfloor of [standby] both have {}",
            listener.value
        );
        let help = "give each machine an address of its own";
        let fault = Fault::new("standby-is-node", &listener.span, message, help);
        sink.add(fault.and(&address.span, "the node"));
    }
}

/// What a draft says of the network, in which nothing is wrong.
pub(super) fn build(draft: &Draft) -> Option<NetworkSettings> {
    let pin = |written: &PinDraft| {
        Some(Pin {
            start: written.start.as_ref()?.value,
            universes: written.universes?,
            source: written.source.as_ref()?.value,
        })
    };
    Some(NetworkSettings {
        sources: draft.sources.clone(),
        pins: draft.pins.iter().map(pin).collect::<Option<_>>()?,
        standby: draft.standby.as_ref().map(|pair| StandbyPair {
            first: pair.first.value,
            second: pair.second.value,
        }),
    })
}
