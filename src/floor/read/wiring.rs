//! Nodes and runs.

use std::net::Ipv4Addr;

use toml::de::DeValue;

use super::super::defaults::{self, MOST_ALIKE};
use super::super::draft::{Lie, NodeDraft, Place, Places, RunDraft, SourceDraft, SourceStart};
use super::super::entry::Entry;
use super::super::fault::Fault;
use super::super::model::{Lead, Packing};
use super::super::schema;
use super::super::serial;
use super::super::sink::At;
use super::super::walk::Keys;
use super::{gather, laying, rectangle, split_up};
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

/// Reads a `[[run]]`, or several of them.
pub(super) fn run(keys: &Keys<'_>) -> Vec<RunDraft> {
    let start = keys.need("start").and_then(|entry| port_address(&entry));
    let run = RunDraft {
        span: keys.span.clone(),
        node: keys.get("node").and_then(|entry| entry.name()),
        port: keys.get("port").and_then(|entry| entry.whole(&(1..=9_999))),
        start,
        slot: slot(keys),
        packing: packing(keys),
        source: keys.get("source").and_then(|entry| source(&entry)),
        panels: keys.need("panels").map_or_else(
            || Places {
                list: Vec::new(),
                broken: true,
            },
            |entry| panels(&entry),
        ),
        serials: keys.get("serials").and_then(|entry| serials(&entry)),
    };
    let split = keys.get("split");
    match split.and_then(|entry| split_of(&entry)) {
        None => vec![run],
        Some(split) => split_run(keys, &run, split),
    }
}

pub(super) fn slot(keys: &Keys<'_>) -> u16 {
    let slot = keys.get("slot").and_then(|entry| entry.whole(&(1..=512)));
    slot.map_or(defaults::FIRST_SLOT, |slot| slot.value)
}

fn packing(keys: &Keys<'_>) -> Packing {
    let packing = keys
        .get("packing")
        .and_then(|entry| entry.word(&Packing::ALL));
    packing.map(|packing| packing.value).unwrap_or_default()
}

/// A Port-Address. Who writes a flat number is told what it may mean.
pub(super) fn port_address(entry: &Entry<'_>) -> Option<At<PortAddress>> {
    let flat: Option<u16> = match entry.value.get_ref() {
        DeValue::Integer(number) => number.as_str().parse().ok(),
        DeValue::String(text) => text.parse().ok(),
        _ => None,
    };
    let Some(from_0) = flat.and_then(PortAddress::new) else {
        return entry.parsed("bad-port-address", str::parse);
    };
    let from_1 = from_0.number().checked_sub(1).and_then(PortAddress::new);
    let from_1 = from_1.map(|address| format!(", \"{address}\" if they count from 1"));
    let message = format!("{} is a flat number", entry.called);
    let help = format!(
        "write \"{from_0}\" if your universes count from 0{}",
        from_1.unwrap_or_default()
    );
    entry.fault(Fault::new("bad-port-address", &entry.span(), message, help));
    None
}

/// Reads `source = "0:0:1"`, `source = "next"` or the table.
fn source(entry: &Entry<'_>) -> Option<SourceDraft> {
    let start = |entry: &Entry<'_>| {
        entry.parsed("bad-port-address", |text| match text {
            "next" => Ok(SourceStart::Next),
            _ => text
                .parse()
                .map(SourceStart::Address)
                .map_err(|wanted| format!("{wanted}; or \"next\", after the run before")),
        })
    };
    if !entry.is_table() {
        return Some(SourceDraft {
            start: start(entry)?,
            slot: defaults::FIRST_SLOT,
            packing: Packing::Packed,
            shared: false,
        });
    }
    let keys = entry.table(&schema::SOURCE)?;
    let start = keys.need("start").and_then(|entry| start(&entry))?;
    if let (SourceStart::Next, Some(slot)) = (start.value, keys.get("slot")) {
        let message = "`slot` says nothing when the source begins after the run before it";
        let help = "take `slot` out, or write an address instead of \"next\"";
        keys.fault(Fault::new("needless-key", &slot.span(), message, help));
    }
    Some(SourceDraft {
        start,
        slot: slot(&keys),
        packing: keys
            .get("packing")
            .map_or(Packing::Packed, |_| packing(&keys)),
        shared: keys
            .get("shared")
            .and_then(|entry| entry.flag())
            .unwrap_or_default(),
    })
}

fn panels(entry: &Entry<'_>) -> Places {
    let mut lead = Lead::default();
    let mut last_passed = None;
    let panels = gather(entry, |item| {
        if !item.is_table() {
            let place = rectangle(item)?;
            last_passed = None;
            return Some(vec![led(place, std::mem::take(&mut lead))]);
        }
        let keys = item.table(&schema::LAID)?;
        if keys.get("at").is_none() {
            let passed = laying::passed(&keys)?;
            let between = lead.spare_behind > 0 || passed.spare_slots > 0;
            if passed.unused_pixels > 0 && lead.unused_pixels > 0 && between {
                let message = "unused pixels lie in two places before one panel";
                let help = "write all unused pixels before this panel in one element";
                entry.fault(Fault::new("unused-apart", &item.span(), message, help));
                return None;
            }
            let add = |have: u16, more: u16| have.saturating_add(more);
            if lead.unused_pixels > 0 && passed.unused_pixels == 0 {
                lead.spare_behind = add(lead.spare_behind, passed.spare_slots);
            }
            lead.spare_slots = add(lead.spare_slots, passed.spare_slots);
            lead.unused_pixels = add(lead.unused_pixels, passed.unused_pixels);
            last_passed = Some(item.span());
            return Some(Vec::new());
        }
        last_passed = None;
        let mut places = laying::places(&keys)?;
        if let Some(first) = places.first_mut() {
            first.lie.lead = std::mem::take(&mut lead);
        }
        Some(places)
    });
    if let Some(span) = last_passed {
        let help = "take it out: what comes after the last panel needs no place";
        let message = "no panel comes after this";
        entry.fault(Fault::new("needless-key", &span, message, help));
    }
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

fn led(place: Place, lead: Lead) -> Place {
    Place {
        lie: Lie { lead, ..place.lie },
        ..place
    }
}

fn serials(entry: &Entry<'_>) -> Option<At<Vec<At<String>>>> {
    let items = entry.list()?;
    let mut all = Vec::new();
    for item in &items {
        let serials = item.parsed("bad-serial", serial::expand)?;
        let span = serials.span;
        all.extend(serials.value.into_iter().map(|value| At {
            value,
            span: span.clone(),
        }));
    }
    Some(At {
        value: all,
        span: entry.span(),
    })
}

/// A new run after so many panels, on the next port, so many universes further on.
#[derive(Clone, Copy)]
struct Split {
    panels: usize,
    universes: u16,
}

fn split_of(entry: &Entry<'_>) -> Option<Split> {
    let keys = entry.table(&schema::RUN_SPLIT)?;
    let whole = |key| {
        keys.need(key)
            .and_then(|entry| entry.whole::<u16>(&(1..=MOST_ALIKE)))
            .map(|number| number.value)
    };
    let (panels, universes) = (whole("panels"), whole("universes"));
    Some(Split {
        panels: usize::from(panels?),
        universes: universes?,
    })
}

fn split_run(keys: &Keys<'_>, run: &RunDraft, split: Split) -> Vec<RunDraft> {
    let lists = split_up(run.panels.list.clone(), split.panels);
    let serials = |at: usize| {
        let serials = run.serials.as_ref()?;
        let from = (at * split.panels).min(serials.value.len());
        // What is too much in all stays with the last, where it is told.
        let to = if at + 1 == lists.len() {
            serials.value.len()
        } else {
            (from + split.panels).min(serials.value.len())
        };
        Some(At {
            value: serials.value[from..to].to_vec(),
            span: serials.span.clone(),
        })
    };
    let further = |start: PortAddress, at: usize| {
        let steps = u32::try_from(at).ok()? * u32::from(split.universes);
        let number = u32::from(start.number()) + steps;
        u16::try_from(number).ok().and_then(PortAddress::new)
    };
    if let Some(start) = &run.start
        && further(start.value, lists.len() - 1).is_none()
    {
        let message = format!(
            "the {} runs that begin here go past the last universe 127:15:15",
            lists.len()
        );
        let help = "start earlier, or leave fewer universes for each run";
        keys.fault(Fault::new("past-last-universe", &start.span, message, help));
    }
    let port = |at: usize| {
        let steps = u16::try_from(at).unwrap_or(u16::MAX);
        run.port.as_ref().map(|port| At {
            value: port.value.saturating_add(steps),
            span: port.span.clone(),
        })
    };
    let start = |at: usize| {
        let start = run.start.as_ref()?;
        Some(At {
            value: further(start.value, at)?,
            span: start.span.clone(),
        })
    };
    let source = |at: usize| {
        let mut source = run.source.clone()?;
        if at > 0 {
            source.start.value = SourceStart::Next;
        }
        Some(source)
    };
    let runs = lists.iter().enumerate().map(|(at, list)| RunDraft {
        span: run.span.clone(),
        node: run.node.clone(),
        port: port(at),
        start: start(at),
        slot: run.slot,
        packing: run.packing,
        source: source(at),
        panels: Places {
            list: list.clone(),
            broken: run.panels.broken,
        },
        serials: serials(at),
    });
    runs.collect()
}
