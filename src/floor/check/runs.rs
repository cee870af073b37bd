//! Runs: no output twice, no slot twice, none past the last universe.

use std::collections::{BTreeSet, HashMap};

use super::super::draft::{Draft, Shape};
use super::super::fault::{Fault, Span};
use super::super::sink::Sink;
use super::super::stretch::Cursor;
use super::grid::Laid;
use super::names::Links;
use crate::wire::PortAddress;

/// Two runs can't hang on one output of one node.
pub(super) fn ports(sink: &Sink, draft: &Draft, links: &Links) {
    let mut seen: HashMap<(usize, u16), &Span> = HashMap::new();
    for (run, node) in draft.runs.iter().zip(&links.run_node) {
        let (Some(node), Some(port)) = (node, &run.port) else {
            continue;
        };
        if let Some(first) = seen.get(&(*node, port.value)) {
            let message = format!("two runs hang on port {} of one node", port.value);
            let help = "give each run a port of its own, or join them to one run";
            sink.add(
                Fault::new("duplicate-port", &port.span, message, help).and(first, "the first"),
            );
        } else {
            seen.insert((*node, port.value), &port.span);
        }
    }
}

/// The slots that a run fills in one universe.
struct Filled {
    node: Option<usize>,
    universe: u32,
    first: u16,
    last: u16,
    run: usize,
}

/// Slots of all runs against each other and against the last universe.
pub(super) fn slots(sink: &Sink, draft: &Draft, links: &Links, laid: &Laid) {
    let mut filled = Vec::new();
    for run in 0..draft.runs.len() {
        // A run whose node is unknown can't be held against the others.
        if draft.nodes.is_empty() || links.run_node[run].is_some() {
            fill(sink, draft, links, laid, run, &mut filled);
        }
    }
    filled.sort_by_key(|f| (f.node, f.universe, f.first, f.run));
    let mut told = BTreeSet::new();
    let mut reach: Option<&Filled> = None;
    for here in &filled {
        let before = reach.filter(|r| r.node == here.node && r.universe == here.universe);
        match before {
            Some(before) if here.first <= before.last => {
                let pair = (before.run.min(here.run), before.run.max(here.run));
                if before.run != here.run && told.insert(pair) {
                    shared(sink, draft, pair, here, before);
                }
                if here.last > before.last {
                    reach = Some(here);
                }
            }
            _ => reach = Some(here),
        }
    }
}

fn shared(sink: &Sink, draft: &Draft, pair: (usize, usize), here: &Filled, before: &Filled) {
    let span = |run: usize| {
        let run = &draft.runs[run];
        run.start.as_ref().map_or(&run.span, |start| &start.span)
    };
    let address = u16::try_from(here.universe).ok().and_then(PortAddress::new);
    let address = address.map_or_else(String::new, |address| address.to_string());
    let last = here.last.min(before.last);
    let message = format!(
        "two runs share slots {} to {} of {address} at one node",
        here.first + 1,
        last + 1
    );
    let help =
        "let the later run start in a universe of its own, or after the last slot of the other";
    let fault = Fault::new("shared-slots", span(pair.1), message, help);
    sink.add(fault.and(span(pair.0), "the other run starts here"));
}

/// Follows one run along its slots, as far as they are known.
fn fill(
    sink: &Sink,
    draft: &Draft,
    links: &Links,
    laid: &Laid,
    run: usize,
    filled: &mut Vec<Filled>,
) {
    let written = &draft.runs[run];
    let Some(start) = &written.start else { return };
    let mut cursor = Cursor::new(start.value.number(), written.slot, written.straddle);
    let mut last_universe = 0;
    for panel in &laid.runs.by_list[run] {
        let Some(kind) = laid.kind[*panel] else {
            return;
        };
        let pixels = draft.panels[kind].shape.as_ref().map(Shape::pixels);
        let slots = links.panel_pixel[kind].and_then(|pixel| draft.pixels[pixel].slots.as_ref());
        let (Some(Ok(pixels)), Some(slots)) = (pixels.map(u32::try_from), slots) else {
            return;
        };
        cursor.lay(pixels, slots.len(), |stretch| {
            last_universe = stretch.universe;
            let last = stretch.first + stretch.len - 1;
            match filled.last_mut() {
                Some(f) if f.run == run && f.universe == stretch.universe => f.last = last,
                _ => filled.push(Filled {
                    node: links.run_node[run],
                    universe: stretch.universe,
                    first: stretch.first,
                    last,
                    run,
                }),
            }
        });
        if last_universe > u32::from(PortAddress::MAX) {
            let message = format!(
                "the run goes past the last universe 127:15:15, in {}",
                laid.positions[*panel]
            );
            let help = "start it earlier, or hang fewer panels on it";
            let fault = Fault::new("past-last-universe", &start.span, message, help);
            let place = laid.runs.by_panel[*panel].map(|(l, p)| &draft.runs[l].panels.list[p].span);
            sink.add(match place {
                Some(place) => fault.and(place, "no universe is left for this"),
                None => fault,
            });
            return;
        }
    }
}
