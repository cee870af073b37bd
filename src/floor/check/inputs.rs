//! Inputs: their slots against each other, and against what arrives and leaves.

use std::collections::BTreeMap;

use super::super::draft::Draft;
use super::super::fault::{Fault, Span};
use super::super::inputs::place;
use super::super::model::Input;
use super::super::sink::{Sink, quoted};
use super::super::tables::UNIVERSE_SLOTS;
use super::grid::Laid;
use super::names::Links;
use super::runs::Occupied;
use crate::wire::PortAddress;

/// The slots of one input, all of them one after the other.
struct Stretch<'d> {
    input: usize,
    node: usize,
    first: usize,
    /// One beyond its last.
    end: usize,
    span: &'d Span,
}

/// Every input has switches, a Port-Address that nothing else uses, and slots of its own.
pub(super) fn check(sink: &Sink, draft: &Draft, links: &Links, laid: &Laid, taken: &Occupied) {
    let mut stretches: Vec<Stretch<'_>> = Vec::new();
    for (at, written) in draft.inputs.iter().enumerate() {
        let panels = &laid.inputs.by_list[at];
        let kinds: Vec<usize> = panels.iter().filter_map(|&p| laid.kind[p]).collect();
        if kinds.len() < panels.len() || written.positions.broken {
            continue;
        }
        let switches: usize = kinds
            .iter()
            .map(|&kind| usize::from(draft.panels[kind].switches))
            .sum();
        if switches == 0 && !panels.is_empty() {
            let message = "none of the panels of this input has switches";
            let help = "write `switches` in the kind of panel: how many lie under it";
            sink.add(Fault::new("no-switches", &written.span, message, help));
            continue;
        }
        let (Some(start), Some(node)) = (&written.start, links.input_node[at]) else {
            continue;
        };
        let first = place(start.value, written.slot);
        let here = Stretch {
            input: at,
            node,
            first,
            end: first + switches,
            span: &start.span,
        };
        if switches == 0 {
            continue;
        }
        if here.end > (usize::from(PortAddress::MAX) + 1) * UNIVERSE_SLOTS {
            let message = "the switches go past the last universe 127:15:15";
            let help = "start earlier, or name fewer panels";
            let fault = Fault::new("past-last-universe", here.span, message, help);
            sink.add(fault);
            continue;
        }
        occupied(sink, draft, &here, taken);
        stretches.push(here);
    }
    against_each_other(sink, draft, &mut stretches);
}

/// Universes that it reaches into, as numbers.
fn universes(stretch: &Stretch<'_>) -> std::ops::RangeInclusive<u32> {
    let number = |place: usize| u32::try_from(place / UNIVERSE_SLOTS).unwrap_or(u32::MAX);
    number(stretch.first)..=number(stretch.end - 1)
}

fn address(universe: u32) -> String {
    let address = u16::try_from(universe).ok().and_then(PortAddress::new);
    address.map_or_else(String::new, |address| address.to_string())
}

/// No universe of it may carry the picture, neither on its way in nor on its way out.
fn occupied(sink: &Sink, draft: &Draft, here: &Stretch<'_>, taken: &Occupied) {
    let uses: [(&str, &BTreeMap<u32, usize>); 2] = [
        ("the console's picture arrives there", &taken.arriving),
        ("the picture leaves there for a node", &taken.leaving),
    ];
    for (what, by_universe) in uses {
        let Some((universe, run)) = by_universe.range(universes(here)).next() else {
            continue;
        };
        let message = format!(
            "{} can't carry switches: {what}, by its Port-Address",
            address(*universe)
        );
        let help = "set the node's input to a Port-Address that no run uses, and write that here";
        let written = &draft.runs[*run];
        let start = written.start.as_ref().map(|start| &start.span);
        let fault = Fault::new("input-in-use", here.span, message, help);
        sink.add(fault.and(start.unwrap_or(&written.span), "used by this run"));
        return;
    }
}

fn against_each_other(sink: &Sink, draft: &Draft, stretches: &mut [Stretch<'_>]) {
    stretches.sort_by_key(|stretch| (stretch.first, stretch.input));
    for (at, here) in stretches.iter().enumerate() {
        for before in &stretches[..at] {
            let (later, earlier) = if here.input > before.input {
                (here, before)
            } else {
                (before, here)
            };
            let fault = if here.first < before.end {
                let message = format!(
                    "two inputs share slots of {}",
                    address(*universes(here).start())
                );
                let help = format!(
                    "let this input start behind the other, at slot {} of {}, or in a universe of \
                     its own",
                    earlier.end % UNIVERSE_SLOTS + 1,
                    address(u32::try_from(earlier.end / UNIVERSE_SLOTS).unwrap_or(u32::MAX))
                );
                Fault::new("shared-input", later.span, message, help)
            } else if universes(here).start() == universes(before).end() && here.node != before.node
            {
                let name = |stretch: &Stretch<'_>| {
                    let name = draft.nodes[stretch.node].name.as_ref();
                    name.map_or_else(String::new, |name| quoted(&name.value))
                };
                let message = format!(
                    "{} comes from node {} and from node {}",
                    address(*universes(here).start()),
                    name(earlier),
                    name(later)
                );
                let help = "give each node's input a Port-Address of its own: who sends on one \
                            overwrites the other";
                Fault::new("input-of-two-nodes", later.span, message, help)
            } else {
                continue;
            };
            sink.add(fault.and(earlier.span, "the other input starts here"));
        }
    }
}

/// The inputs of a draft in which nothing is wrong.
pub(super) fn build(draft: &Draft, links: &Links, laid: &Laid) -> Option<Vec<Input>> {
    let input = |(at, written): (usize, &super::super::draft::InputDraft)| {
        Some(Input {
            node: links.input_node[at]?,
            start: written.start.as_ref()?.value,
            slot: written.slot,
            pressed: written.pressed,
            panels: laid.inputs.by_list[at].clone(),
        })
    };
    draft.inputs.iter().enumerate().map(input).collect()
}
