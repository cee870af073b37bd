//! Runs: no output twice, no slot twice, none past the last universe, no serial twice.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use super::super::draft::{Draft, Shape, SourceStart};
use super::super::fault::{Fault, Span};
use super::super::model::Source;
use super::super::sink::{Sink, quoted};
use super::super::stretch::{Cursor, Stretch};
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
            let node = node_name(draft, *node);
            let message = format!("two runs hang on port {} of {node}", port.value);
            let help = "give each run a port of its own, or join them to one run";
            sink.add(
                Fault::new("duplicate-port", &port.span, message, help).and(first, "the first"),
            );
        } else {
            seen.insert((*node, port.value), &port.span);
        }
    }
}

fn node_name(draft: &Draft, node: usize) -> String {
    let name = draft.nodes[node].name.as_ref();
    name.map_or_else(
        || "one node".to_owned(),
        |name| format!("node {}", quoted(&name.value)),
    )
}

/// The slots that a run fills in one universe.
struct Filled {
    /// Of a node, or of the console.
    node: Option<usize>,
    universe: u32,
    first: u16,
    last: u16,
    run: usize,
}

/// Universes that the runs fill, each with one of the runs.
#[derive(Debug, Default)]
pub(super) struct Occupied {
    /// With the console's picture.
    pub(super) arriving: BTreeMap<u32, usize>,
    /// At any node.
    pub(super) leaving: BTreeMap<u32, usize>,
}

/// What is found by following all runs.
pub(super) struct AllFollowed {
    /// Where the console's slots of each run lie, if elsewhere.
    pub(super) sources: Vec<Option<Source>>,
    pub(super) occupied: Occupied,
}

/// Follows all runs: their slots against each other and against the last universe, at the nodes
/// and at the console.
pub(super) fn slots(sink: &Sink, draft: &Draft, links: &Links, laid: &Laid) -> AllFollowed {
    let mut filled = Vec::new();
    let mut arriving = Vec::new();
    let mut sources = Vec::new();
    let mut next = None;
    for run in 0..draft.runs.len() {
        let followed = follow(sink, draft, links, laid, run, next);
        next = followed.next;
        sources.push(followed.source);
        // A run whose node is unknown can't be held against the others.
        if draft.nodes.is_empty() || links.run_node[run].is_some() {
            filled.extend(followed.filled);
            filled.extend(followed.unused);
        }
        arriving.extend(followed.arriving);
    }
    let by_universe = |all: &[Filled]| all.iter().map(|f| (f.universe, f.run)).collect();
    let occupied = Occupied {
        arriving: by_universe(&arriving),
        leaving: by_universe(&filled),
    };
    let mut told = BTreeSet::new();
    for (pair, here, before) in overlaps(filled) {
        shared(sink, draft, pair, &here, &before);
        told.insert(pair);
    }
    for (pair, here, before) in overlaps(arriving) {
        // Without sources of their own, runs that share slots at a node do so at the console, too.
        if !told.contains(&pair) {
            shared_source(sink, draft, pair, &here, &before);
        }
    }
    AllFollowed { sources, occupied }
}

/// Each pair of runs that share slots, the earlier one first, with an example.
fn overlaps(mut filled: Vec<Filled>) -> Vec<((usize, usize), Filled, Filled)> {
    filled.sort_by_key(|f| (f.node, f.universe, f.first, f.run));
    let mut told = BTreeSet::new();
    let mut found = Vec::new();
    let mut reach: Option<Filled> = None;
    for here in filled {
        let same = |r: &Filled| r.node == here.node && r.universe == here.universe;
        match reach.take().filter(same) {
            Some(before) if here.first <= before.last => {
                let pair = (before.run.min(here.run), before.run.max(here.run));
                let further = here.last > before.last;
                if before.run != here.run && told.insert(pair) {
                    found.push((pair, here.again(), before.again()));
                }
                reach = Some(if further { here } else { before });
            }
            _ => reach = Some(here),
        }
    }
    found
}

impl Filled {
    const fn of(node: Option<usize>, run: usize, stretch: Stretch) -> Self {
        Self {
            node,
            universe: stretch.universe,
            first: stretch.first,
            last: stretch.first + stretch.len - 1,
            run,
        }
    }

    fn again(&self) -> Self {
        Self { ..*self }
    }
}

fn address(universe: u32) -> String {
    let address = u16::try_from(universe).ok().and_then(PortAddress::new);
    address.map_or_else(String::new, |address| address.to_string())
}

fn shared(sink: &Sink, draft: &Draft, pair: (usize, usize), here: &Filled, before: &Filled) {
    let span = |run: usize| {
        let run = &draft.runs[run];
        run.start.as_ref().map_or(&run.span, |start| &start.span)
    };
    let message = format!(
        "two runs share slots {} to {} of {} at {}",
        here.first + 1,
        here.last.min(before.last) + 1,
        address(here.universe),
        here.node
            .map_or_else(|| "one node".to_owned(), |node| node_name(draft, node)),
    );
    let other = if here.run == pair.0 { here } else { before };
    let help = format!(
        "let this run start in a universe of its own, or behind the other, whose slots in {} end \
         with {}",
        address(other.universe),
        other.last + 1
    );
    let fault = Fault::new("shared-slots", span(pair.1), message, help);
    sink.add(fault.and(span(pair.0), "the other run starts here"));
}

fn shared_source(sink: &Sink, draft: &Draft, pair: (usize, usize), here: &Filled, before: &Filled) {
    let source = |run: usize| draft.runs[run].source.as_ref();
    if [pair.0, pair.1]
        .iter()
        .any(|&run| source(run).is_some_and(|source| source.shared))
    {
        return;
    }
    let span = |run: usize| {
        let written = &draft.runs[run];
        let start = written
            .start
            .as_ref()
            .map_or(&written.span, |start| &start.span);
        source(run).map_or(start, |source| &source.start.span)
    };
    let message = format!(
        "two runs show the console's slots {} to {} of {}",
        here.first + 1,
        here.last.min(before.last) + 1,
        address(here.universe),
    );
    let help = "give each slots of its own; if both are to show the same picture, give one of them \
                `source = { start = …, shared = true }`";
    let fault = Fault::new("shared-source", span(pair.1), message, help);
    sink.add(fault.and(span(pair.0), "the other run reads from here"));
}

/// What is found by following one run.
#[derive(Default)]
struct Followed {
    filled: Vec<Filled>,
    /// Slots of unused pixels: another run's levels would light them.
    unused: Vec<Filled>,
    arriving: Vec<Filled>,
    source: Option<Source>,
    /// Where the console's next run would begin.
    next: Option<(PortAddress, u16)>,
}

/// Follows one run along its slots, as far as they are known.
fn follow(
    sink: &Sink,
    draft: &Draft,
    links: &Links,
    laid: &Laid,
    run: usize,
    next: Option<(PortAddress, u16)>,
) -> Followed {
    let mut found = Followed::default();
    let written = &draft.runs[run];
    let Some(start) = &written.start else {
        return found;
    };
    let mut node = Cursor::new(start.value.number(), written.slot, written.packing);
    found.source = written.source.as_ref().and_then(|source| {
        let (start, slot) = match source.start.value {
            SourceStart::Address(address) => (address, source.slot),
            SourceStart::Next if run == 0 => {
                let message = "no run comes before the first";
                let help = "write the address of its first slot at the console";
                let at = &source.start.span;
                sink.add(Fault::new("nothing-before", at, message, help));
                return None;
            }
            SourceStart::Next => next?,
        };
        Some(Source {
            start,
            slot,
            packing: source.packing,
        })
    });
    if written.source.is_some() && found.source.is_none() {
        return found;
    }
    let mut console = found
        .source
        .map(|source| Cursor::new(source.start.number(), source.slot, source.packing));
    for (panel, lead) in laid.along(draft, run) {
        let Some(kind) = laid.kind[panel] else {
            return found;
        };
        let pixels = draft.panels[kind].shape.as_ref().map(Shape::pixels);
        let slots = links.panel_pixel[kind].and_then(|pixel| draft.pixels[pixel].slots.as_ref());
        let (Some(Ok(pixels)), Some(slots)) = (pixels.map(u32::try_from), slots) else {
            return found;
        };
        let of = links.run_node[run];
        node.pass(lead, slots.len(), |stretch| {
            found.unused.push(Filled::of(of, run, stretch));
        });
        let past = lay(&mut node, pixels, slots.len(), of, run, &mut found.filled);
        let past_source = console.as_mut().is_some_and(|console| {
            lay(console, pixels, slots.len(), None, run, &mut found.arriving)
        });
        if past || past_source {
            let from = match &written.source {
                Some(source) if past_source => &source.start.span,
                _ => &start.span,
            };
            past_last(sink, draft, laid, panel, from);
            return found;
        }
    }
    if console.is_none() {
        let same = |f: &Filled| Filled { node: None, ..*f };
        found.arriving = found.filled.iter().map(same).collect();
    }
    let (universe, slot) = console.unwrap_or(node).next();
    let universe = u16::try_from(universe).ok().and_then(PortAddress::new);
    found.next = universe.zip(u16::try_from(slot).ok());
    found
}

/// Lays one panel; says whether it goes past the last universe.
fn lay(
    cursor: &mut Cursor,
    pixels: u32,
    slots_per_pixel: usize,
    node: Option<usize>,
    run: usize,
    filled: &mut Vec<Filled>,
) -> bool {
    let mut last_universe = 0;
    cursor.lay(pixels, slots_per_pixel, |stretch| {
        last_universe = stretch.universe;
        let here = Filled::of(node, run, stretch);
        match filled.last_mut() {
            Some(f) if f.universe == here.universe && f.last + 1 == here.first => {
                f.last = here.last;
            }
            _ => filled.push(here),
        }
    });
    last_universe > u32::from(PortAddress::MAX)
}

fn past_last(sink: &Sink, draft: &Draft, laid: &Laid, panel: usize, start: &Span) {
    let message = format!(
        "the run goes past the last universe 127:15:15, in {}",
        laid.positions[panel]
    );
    let help = "start it earlier, or hang fewer panels on it";
    let fault = Fault::new("past-last-universe", start, message, help);
    let place = laid.runs.by_panel[panel].map(|(l, p)| &draft.runs[l].panels.list[p].span);
    sink.add(match place {
        Some(place) => fault.and(place, "no universe is left for this"),
        None => fault,
    });
}

/// Serials: one for each panel of a run that gives any, none twice on the floor.
pub(super) fn serials(sink: &Sink, draft: &Draft, laid: &Laid) {
    let mut seen: HashMap<&str, &Span> = HashMap::new();
    for (run, panels) in draft.runs.iter().zip(&laid.runs.by_list) {
        let Some(serials) = &run.serials else {
            continue;
        };
        if serials.value.len() != panels.len() && !run.panels.broken {
            let message = format!(
                "the run has {} panels, but {} serials",
                panels.len(),
                serials.value.len()
            );
            let help = "write one serial for each panel, in wiring order, or none at all";
            sink.add(Fault::new("serial-count", &serials.span, message, help));
        }
        for serial in &serials.value {
            if let Some(first) = seen.insert(&serial.value, &serial.span) {
                let message = format!("two panels have the serial {}", serial.value);
                let help = "every panel has a serial of its own; look at their labels";
                sink.add(
                    Fault::new("duplicate-serial", &serial.span, message, help)
                        .and(first, "the first"),
                );
            }
        }
    }
}
