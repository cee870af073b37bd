//! A floor file that is read again while a world runs.

use std::collections::BTreeMap;
use std::net::SocketAddrV4;
use std::sync::Arc;

use litfloor::engine::Engine;
use litfloor::floor::tables::Tables;
use litfloor::sim::node::{Character, SimNode};
use litfloor::sim::truth::{Amperes, Truth};
use litfloor::units::Time;
use litfloor::wire::PortAddress;

use super::{Onto, World, me};

/// In each slot of each universe of each node the brightest of what may be on show.
pub type Brightest = BTreeMap<(SocketAddrV4, PortAddress), [u8; 512]>;

impl World {
    /// Every node outputs every universe that any floor of a test may use.
    pub fn nodes_that_output_all(mut self) -> Self {
        self.nodes = (self.nodes.iter())
            .map(|node| {
                SimNode::new(Character {
                    outputs: (0..64).filter_map(PortAddress::new).collect(),
                    ..node.character().clone()
                })
            })
            .collect();
        self
    }

    /// Another floor takes over; its nodes are in the order of the ones before.
    pub fn replace(&mut self, text: &str) {
        let floor = litfloor::floor::parse("made-up.toml", text)
            .unwrap_or_else(|faults| panic!("{}\n{text}", faults.render(false)));
        let tables = Arc::new(Tables::compile(&floor));
        let floor = Arc::new(floor);
        let revision = self.engine.revision() + 1;
        let mut engine = Engine::new(Arc::clone(&floor), Arc::clone(&tables), me(), self.now);
        engine.set_file("made-up.toml", revision, self.now);
        let mut before = std::mem::replace(&mut self.engine, engine);
        self.truth = Truth::new(&floor);
        (self.floor, self.tables) = (floor, tables);
        let mut outlet = Onto {
            link: &mut self.link,
            sent: &mut self.sent,
            now: self.now,
        };
        self.engine.take_over(&mut before, self.now, &mut outlet);
        self.next_tick = self.now;
    }

    /// The brightest that may be on show: what was sent since `since`, and what nodes hold.
    pub fn brightest(&self, since: Time) -> Brightest {
        let mut all = Brightest::new();
        let mut brighten = |key, slots: &[u8]| {
            let most = all.entry(key).or_insert([0; 512]);
            for (most, &slot) in most.iter_mut().zip(slots) {
                *most = slot.max(*most);
            }
        };
        for sent in self.sent.iter().rev().take_while(|sent| sent.at >= since) {
            brighten((sent.to, sent.port_address), &sent.slots);
        }
        for node in &self.nodes {
            for &output in &node.character().outputs {
                if let Some(held) = node.held(output) {
                    brighten((node.character().address, output), held);
                }
            }
        }
        all
    }

    /// What the floor would draw with that.
    pub fn amperes_of(&self, brightest: &Brightest) -> Amperes {
        self.truth.amperes_held(|node, address| {
            let node = self.floor.nodes.get(node?)?;
            brightest.get(&(node.address, address))
        })
    }

    /// Everything that has a limit: its name, what it really draws, what it may, and what it would
    /// draw with `brightest`.
    pub fn loads(&self, brightest: &Amperes) -> Vec<(String, f64, f64, f64)> {
        let (floor, true_a) = (&self.floor, self.true_amperes());
        let rows = |names: Vec<(String, f64)>, draws: &[f64], most: &[f64]| {
            let rows = names.into_iter().zip(draws).zip(most);
            let row = |(((name, rated_a), &draw_a), &most_a): (((String, f64), &f64), &f64)| {
                (name, draw_a, rated_a * floor.cap.margin, most_a)
            };
            rows.map(row).collect::<Vec<_>>()
        };
        let rated = |panel: &litfloor::floor::model::Panel| {
            let rated = floor.panel_kinds[panel.kind].rated_a;
            let rated_a = rated.map_or(f64::INFINITY, |rated| rated.0);
            (panel.position.to_string(), rated_a)
        };
        let panels = floor.panels.iter().map(rated).collect();
        let most = |rated_a: f64, peak: Option<litfloor::floor::model::Peak>| {
            rated_a * peak.map_or(1.0, |peak| peak.percent / 100.0)
        };
        let feeds = floor.feeds.iter();
        let feeds = feeds.map(|of| (of.name.clone(), most(of.fuse_a.0, of.peak)));
        let supplies = floor.supplies.iter();
        let supplies = supplies.map(|of| (of.name.clone(), most(of.rated_a.0, of.peak)));
        let circuits = floor.circuits.iter();
        let circuits = circuits.map(|of| (of.name.clone(), of.rated_a.0));
        [
            rows(panels, &true_a.panels, &brightest.panels),
            rows(feeds.collect(), &true_a.feeds, &brightest.feeds),
            rows(supplies.collect(), &true_a.supplies, &brightest.supplies),
            rows(circuits.collect(), &true_a.circuits, &brightest.circuits),
        ]
        .concat()
    }
}
