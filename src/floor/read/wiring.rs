//! Nodes and runs.

use std::net::Ipv4Addr;

use super::super::defaults;
use super::super::draft::{NodeDraft, Place, Places, RunDraft};
use super::super::entry::Entry;
use super::super::fault::Fault;
use super::super::schema;
use super::super::walk::Keys;
use super::{gather, rectangle};
use crate::wire::{PORT, PortAddress};

/// Reads `[[node]]`.
pub(super) fn node(keys: &Keys<'_>) -> NodeDraft {
    let port = keys
        .get("port")
        .and_then(|entry| entry.whole(&(1..=65_535)));
    NodeDraft {
        name: keys.need("name").and_then(|entry| entry.name()),
        address: keys.need("address").and_then(|entry| {
            entry.parsed("bad-address", |text| {
                text.parse::<Ipv4Addr>().map_err(|_| {
                    "an IPv4 address is four numbers from 0 to 255, for example \"192.168.10.21\"; \
                     another UDP port is written apart, as `port`"
                })
            })
        }),
        port: port.map_or(PORT, |port| port.value),
    }
}

/// Reads `[[run]]`.
pub(super) fn run(keys: &Keys<'_>) -> RunDraft {
    let slot = keys.get("slot").and_then(|entry| entry.whole(&(1..=512)));
    RunDraft {
        span: keys.span.clone(),
        node: keys.get("node").and_then(|entry| entry.name()),
        port: keys.get("port").and_then(|entry| entry.whole(&(1..=9_999))),
        start: keys
            .need("start")
            .and_then(|entry| entry.parsed("bad-port-address", str::parse::<PortAddress>)),
        slot: slot.map_or(defaults::FIRST_SLOT, |slot| slot.value),
        straddle: keys
            .get("straddle")
            .and_then(|entry| entry.flag())
            .unwrap_or_default(),
        panels: keys.need("panels").map_or_else(
            || Places {
                list: Vec::new(),
                broken: true,
            },
            |entry| panels(&entry),
        ),
    }
}

fn panels(entry: &Entry<'_>) -> Places {
    let panels = gather(entry, |item| {
        if item.is_table() {
            turned(&item.table(&schema::TURNED)?)
        } else {
            rectangle(item, 0)
        }
    });
    if panels.list.is_empty() && !panels.broken {
        let help = "name its panels in wiring order, or take the run out";
        entry.fault(Fault::new(
            "empty-list",
            &entry.span(),
            "a run without panels",
            help,
        ));
    }
    panels
}

/// Reads `{ at = "B2", turn = 90 }`.
fn turned(keys: &Keys<'_>) -> Option<Place> {
    let at = keys.need("at");
    let turn = keys.need("turn").and_then(|entry| {
        let turn = entry.whole::<u16>(&(0..=270))?;
        if turn.value % 90 == 0 {
            return Some(turn.value);
        }
        let message = "panels are turned by quarters";
        let help = "`turn` is 0, 90, 180 or 270 degrees, clockwise";
        entry.fault(Fault::new("out-of-range", &turn.span, message, help));
        None
    });
    let place = rectangle(&at?, 0)?;
    Some(Place {
        turn_deg: turn?,
        ..place
    })
}
