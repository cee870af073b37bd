//! Names: none twice, none unknown.

use std::collections::HashMap;
use std::net::{Ipv4Addr, SocketAddrV4};

use super::super::LeadsBack;
use super::super::draft::{Draft, NodeDraft, SensorPlace};
use super::super::fault::{Fault, Span};
use super::super::model::Measured;
use super::super::near::nearest;
use super::super::sink::{At, Sink, quoted};

/// Which names lead where; `None` where that is unknown and has been told.
#[derive(Debug)]
pub(super) struct Links {
    pub(super) grid_panel: Option<usize>,
    pub(super) panel_pixel: Vec<Option<usize>>,
    pub(super) run_node: Vec<Option<usize>>,
    pub(super) input_node: Vec<Option<usize>>,
    pub(super) supply_circuit: Vec<Option<usize>>,
    pub(super) feed_supply: Vec<Option<usize>>,
    /// For those that do not sit at a panel.
    pub(super) sensor_of: Vec<Option<Measured>>,
}

/// Names that a slip of the pen is held against; keeps absurd files from taking minutes.
const MOST_GUESSED: usize = 200;

/// Names of one sort of thing, each with its index.
struct Names<'d> {
    what: &'static str,
    index: HashMap<&'d str, (usize, &'d Span)>,
    all: Vec<&'d str>,
    /// Whether one of them could not be read, so that a name that is not found may be that one.
    doubtful: bool,
}

impl<'d> Names<'d> {
    fn new(
        sink: &Sink,
        what: &'static str,
        names: impl Iterator<Item = Option<&'d At<String>>>,
    ) -> Self {
        let mut index: HashMap<&str, (usize, &Span)> = HashMap::new();
        let mut all = Vec::new();
        let mut doubtful = false;
        for (i, name) in names.enumerate() {
            let Some(name) = name else {
                doubtful = true;
                continue;
            };
            if let Some((_, first)) = index.get(name.value.as_str()) {
                let message = format!("two {what}s are called {}", quoted(&name.value));
                let help = format!("give every {what} a name of its own");
                let fault = Fault::new("duplicate-name", &name.span, message, help);
                sink.add(fault.and(first, "the first"));
                continue;
            }
            index.insert(name.value.as_str(), (i, &name.span));
            all.push(name.value.as_str());
        }
        Self {
            what,
            index,
            all,
            doubtful,
        }
    }

    fn find(&self, sink: &Sink, name: Option<&At<String>>) -> Option<usize> {
        let name = name?;
        if let Some((i, _)) = self.index.get(name.value.as_str()) {
            return Some(*i);
        }
        if self.doubtful || sink.is_full() {
            return None;
        }
        let what = self.what;
        let few: Vec<String> = self.all.iter().take(12).map(|name| quoted(name)).collect();
        let known = match (few.len(), self.all.len()) {
            (0, _) => format!("there is no {what} in this file yet"),
            (few_len, all) if few_len < all => format!("known: {} …", few.join(", ")),
            _ => format!("known: {}", few.join(", ")),
        };
        let help = match nearest(&name.value, self.all.iter().copied().take(MOST_GUESSED)) {
            Some(near) => format!("did you mean {}? {known}", quoted(near)),
            None => known,
        };
        let message = format!("no {what} is called {}", quoted(&name.value));
        sink.add(Fault::new("unknown-name", &name.span, message, help));
        None
    }
}

/// Finds what every name means.
pub(super) fn links(sink: &Sink, draft: &Draft) -> Links {
    let pixels = Names::new(
        sink,
        "kind of pixel",
        draft.pixels.iter().map(|p| Some(&p.name)),
    );
    let panels = Names::new(
        sink,
        "kind of panel",
        draft.panels.iter().map(|p| Some(&p.name)),
    );
    let nodes = Names::new(sink, "node", draft.nodes.iter().map(|n| n.name.as_ref()));
    let circuits = Names::new(
        sink,
        "circuit",
        draft.circuits.iter().map(|c| c.name.as_ref()),
    );
    let supplies = Names::new(
        sink,
        "supply",
        draft.supplies.iter().map(|s| s.name.as_ref()),
    );
    let feeds = Names::new(sink, "feed", draft.feeds.iter().map(|f| f.name.as_ref()));
    // Readings call sensors by their names.
    let sensors = draft.sensors.iter().map(|s| s.name.as_ref());
    Names::new(sink, "sensor", sensors);

    let run_node = |run: &super::super::draft::RunDraft| {
        if draft.nodes.is_empty() {
            if let Some(node) = &run.node {
                let message = "a run names a node, but the file has no nodes";
                let help = "add a table [[node]] with this name, or take `node` out of every run: \
                            a floor without nodes is only watched";
                sink.add(Fault::new("node-without-nodes", &node.span, message, help));
            }
            return None;
        }
        if run.node.is_none() {
            let message = "the run does not say which node it hangs on";
            let known: Vec<String> = nodes.all.iter().take(12).map(|name| quoted(name)).collect();
            let help = format!("add `node`; known: {}", known.join(", "));
            sink.add(Fault::new("missing-key", &run.span, message, help));
        }
        nodes.find(sink, run.node.as_ref())
    };
    Links {
        grid_panel: panels.find(
            sink,
            draft.grid.as_ref().and_then(|grid| grid.panel.as_ref()),
        ),
        panel_pixel: draft
            .panels
            .iter()
            .map(|p| pixels.find(sink, p.pixel.as_ref()))
            .collect(),
        run_node: draft.runs.iter().map(run_node).collect(),
        input_node: draft
            .inputs
            .iter()
            .map(|input| nodes.find(sink, input.node.as_ref()))
            .collect(),
        supply_circuit: draft
            .supplies
            .iter()
            .map(|s| circuits.find(sink, s.circuit.as_ref()))
            .collect(),
        feed_supply: draft
            .feeds
            .iter()
            .map(|f| supplies.find(sink, f.supply.as_ref()))
            .collect(),
        sensor_of: draft
            .sensors
            .iter()
            .map(|sensor| {
                Some(match sensor.of.as_ref()? {
                    SensorPlace::Circuit(name) => {
                        Measured::Circuit(circuits.find(sink, Some(name))?)
                    }
                    SensorPlace::Supply(name) => Measured::Supply(supplies.find(sink, Some(name))?),
                    SensorPlace::Feed(name) => Measured::Feed(feeds.find(sink, Some(name))?),
                    SensorPlace::Panel(_) => return None,
                })
            })
            .collect(),
    }
}

/// Addresses of nodes: one machine each, none twice, none of them litfloor itself.
pub(super) fn addresses(sink: &Sink, nodes: &[NodeDraft], leads_back: &LeadsBack<'_>) {
    let mut seen: HashMap<(Ipv4Addr, u16), &Span> = HashMap::new();
    for node in nodes {
        let Some(address) = &node.address else {
            continue;
        };
        let kind = match address.value {
            a if a.is_unspecified() => Some("stands for no address at all"),
            a if a.is_multicast() => Some("is a multicast address"),
            a if a.is_broadcast() => Some("is the broadcast address"),
            _ => None,
        };
        if let Some(kind) = kind {
            let message = format!("{} {kind}", address.value);
            let help = "frames are sent to each node alone: write the address of the one machine";
            sink.add(Fault::new("not-one-machine", &address.span, message, help));
        } else if leads_back(SocketAddrV4::new(address.value, node.port)) {
            let message = format!(
                "{}:{} is this program itself: its frames would go round in a circle for ever",
                address.value, node.port
            );
            let help = "give the node the address of the controller, or let litfloor listen \
                        elsewhere with --artnet";
            sink.add(Fault::new("leads-back", &address.span, message, help));
        } else if let Some(first) = seen.insert((address.value, node.port), &address.span) {
            let message = format!("two nodes have the address {}:{}", address.value, node.port);
            let help = "give each its own address; one machine with several outputs is one node";
            sink.add(
                Fault::new("duplicate-address", &address.span, message, help)
                    .and(first, "the first"),
            );
        }
    }
}
