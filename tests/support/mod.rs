//! What several integration tests need: made-up floors, and an engine on a made-up network.

#![allow(
    dead_code,
    unreachable_pub,
    missing_docs,
    reason = "each test uses its own part"
)]

pub mod bench;
pub mod pair;
pub mod random;
pub mod replace;
pub mod stage;
pub mod windows;

use std::net::{Ipv4Addr, SocketAddrV4};
use std::sync::Arc;

use litfloor::engine::command::Command;
use litfloor::engine::out::{Datagram, Outlet};
use litfloor::engine::{Engine, Me};
use litfloor::floor::model::{Delivery, Floor};
use litfloor::floor::tables::{OutUniverse, Tables};
use litfloor::pattern::Refused;
use litfloor::sim::link::{Chance, Link, Weather};
use litfloor::sim::node::{Character, SimNode};
use litfloor::sim::truth::{Amperes, Truth};
use litfloor::units::Time;
use litfloor::wire::{self, Packet, PortAddress, dmx};

/// The engine's end of the made-up network.
pub fn me() -> Me {
    Me {
        listener: SocketAddrV4::new(Ipv4Addr::UNSPECIFIED, 6454),
        interfaces: Vec::new(),
    }
}

/// The console that sends to the engine.
pub const CONSOLE: SocketAddrV4 = SocketAddrV4::new(Ipv4Addr::new(10, 9, 0, 1), 6454);

/// A floor, an engine, a bad network and nodes, on a made-up clock.
pub struct World {
    pub floor: Arc<Floor>,
    pub tables: Arc<Tables>,
    pub engine: Engine,
    pub link: Link,
    pub nodes: Vec<SimNode>,
    pub truth: Truth,
    pub now: Time,
    /// All that left for nodes, in order.
    pub sent: Vec<Sent>,
    /// Peaks and rises.
    pub windows: windows::Windows,
    pub watches_windows: bool,
    sequence: u8,
    next_tick: Time,
}

/// Puts what leaves on the made-up network.
struct Onto<'a> {
    link: &'a mut Link,
    sent: &'a mut Vec<Sent>,
    now: Time,
}

/// What left for a node.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sent {
    pub at: Time,
    pub to: SocketAddrV4,
    pub port_address: PortAddress,
    pub slots: Vec<u8>,
}

impl Outlet for Onto<'_> {
    fn send(&mut self, datagram: Datagram<'_>) -> bool {
        let bytes = datagram.to_vec();
        self.link.send(self.now, datagram.to(), &bytes);
        if let Ok(Packet::Dmx(dmx)) = wire::read(&bytes) {
            self.sent.push(Sent {
                at: self.now,
                to: datagram.to(),
                port_address: dmx.port_address,
                slots: dmx.slots.to_vec(),
            });
        }
        true
    }
}

impl World {
    pub fn new(text: &str, seed: u64, loss: f64) -> Self {
        Self::with_network(text, seed, loss, None)
    }

    /// `really` is what the network does when that is worse than the floor file says.
    pub fn with_network(text: &str, seed: u64, loss: f64, really: Option<Delivery>) -> Self {
        let floor = litfloor::floor::parse("made-up.toml", text)
            .unwrap_or_else(|faults| panic!("{}\n{text}", faults.render(false)));
        let tables = Arc::new(Tables::compile(&floor));
        let mut chance = Chance::new(seed ^ 0x5EED);
        let nodes = floor.nodes.iter().enumerate().map(|(at, node)| {
            SimNode::new(Character {
                short_name: node.name.clone(),
                long_name: node.name.clone(),
                address: node.address,
                outputs: outputs_of(&tables, at),
                syncs: true,
                orders: chance.up_to(1) == 0,
            })
        });
        let nodes = nodes.collect();
        let truth = Truth::new(&floor);
        let weather = Weather {
            loss,
            double: 0.05,
            delivery: really.unwrap_or(floor.delivery),
        };
        let floor = Arc::new(floor);
        let now = Time::from_ms(1);
        let engine = Engine::new(Arc::clone(&floor), Arc::clone(&tables), me(), now);
        Self {
            link: Link::new(seed, weather),
            next_tick: now,
            sent: Vec::new(),
            windows: windows::Windows::new(&floor, now),
            watches_windows: false,
            sequence: 0,
            floor,
            tables,
            engine,
            nodes,
            truth,
            now,
        }
    }

    /// Every node shows this, in every universe that leaves, before the engine has said a word.
    pub fn nodes_show(&mut self, mut picture: impl FnMut(&OutUniverse) -> [u8; 512]) {
        for universe in &self.tables.outputs {
            let Some(node) = universe.node else { continue };
            let mut buffer = [0; dmx::LARGEST];
            let slots = picture(universe);
            let bytes = dmx::write(&mut buffer, 0, 0, universe.port_address, &slots);
            self.nodes[node as usize].handle(self.now, CONSOLE, bytes);
        }
    }

    /// The console sends one universe.
    pub fn console_sends(&mut self, universe: usize, slots: &[u8]) {
        self.sequence = if self.sequence == 255 {
            1
        } else {
            self.sequence + 1
        };
        let mut buffer = [0; dmx::LARGEST];
        let address = self.tables.universes[universe].port_address;
        let bytes = dmx::write(&mut buffer, self.sequence, 0, address, slots).to_vec();
        self.arrives(CONSOLE, &bytes);
    }

    /// A datagram reaches the engine.
    pub fn arrives(&mut self, from: SocketAddrV4, bytes: &[u8]) {
        let mut outlet = Onto {
            link: &mut self.link,
            sent: &mut self.sent,
            now: self.now,
        };
        self.engine.handle(self.now, from, bytes, &mut outlet);
        self.next_tick = self.engine.next_tick();
    }

    /// The engine is to end and takes back what is above limits.
    pub fn ends_peaks(&mut self) {
        let mut outlet = Onto {
            link: &mut self.link,
            sent: &mut self.sent,
            now: self.now,
        };
        self.engine.end_peaks(self.now, &mut outlet);
        self.next_tick = self.engine.next_tick();
    }

    /// Someone gives an order.
    pub fn command(&mut self, command: Command) -> Result<(), Refused> {
        let mut outlet = Onto {
            link: &mut self.link,
            sent: &mut self.sent,
            now: self.now,
        };
        self.engine.command(self.now, command, &mut outlet)?;
        self.next_tick = self.engine.next_tick();
        Ok(())
    }

    /// Lets time pass until `until`, calling `each` after every single datagram that a node got.
    pub fn run_until(&mut self, until: Time, mut each: impl FnMut(&Self)) {
        loop {
            let arrival = self.link.next_time().unwrap_or(Time(u64::MAX));
            let next = arrival.min(self.next_tick);
            if next > until {
                self.now = until;
                return;
            }
            self.now = next.max(self.now);
            for datagram in self.link.due(self.now) {
                self.deliver(&datagram);
                if self.watches_windows {
                    let amperes = self.true_amperes();
                    self.windows.pass(self.now, &amperes);
                }
                each(self);
            }
            if self.now >= self.next_tick {
                let mut outlet = Onto {
                    link: &mut self.link,
                    sent: &mut self.sent,
                    now: self.now,
                };
                self.engine.tick(self.now, &mut outlet);
                self.next_tick = self.engine.next_tick();
            }
            if self.watches_windows {
                self.assert_rises();
            }
        }
    }

    fn deliver(&mut self, datagram: &litfloor::sim::link::Datagram) {
        let daemon = SocketAddrV4::new(Ipv4Addr::new(10, 9, 0, 2), 6454);
        for at in 0..self.nodes.len() {
            if self.nodes[at].character().address == datagram.to {
                let replies = self.nodes[at].handle(self.now, daemon, &datagram.bytes);
                for reply in replies {
                    self.arrives(datagram.to, &reply);
                }
            }
        }
    }

    /// What the floor really draws now.
    pub fn true_amperes(&self) -> Amperes {
        self.truth.amperes(&self.nodes)
    }

    /// Apparent power of all circuits, in volt-amperes.
    pub fn true_va(&self, amperes: &Amperes) -> f64 {
        let circuits = self.floor.circuits.iter().zip(&amperes.circuits);
        circuits.map(|(of, a)| of.volts.0 * a).sum()
    }

    /// Fails if anything really draws more than its limit; says how near it came, as a share.
    pub fn assert_within_limits(&self) -> f64 {
        let (name, nearest) = self.nearest_to_limit();
        // The witness adds floating-point numbers: a part in a thousand million.
        assert!(
            nearest <= 1.0 + 1e-9,
            "{name} draws {nearest} of its limit at {:?}",
            self.now
        );
        nearest
    }

    /// What really draws most of its limit, and how much of it, as a share.
    pub fn nearest_to_limit(&self) -> (String, f64) {
        let true_a = self.true_amperes();
        let floor = &self.floor;
        let panels = floor
            .panels
            .iter()
            .zip(&true_a.panels)
            .filter_map(|(panel, &draw_a)| {
                let rated = floor.panel_kinds[panel.kind].rated_a?;
                Some((panel.position.to_string(), draw_a, rated.0))
            });
        let most = |rated_a: f64, peak: Option<litfloor::floor::model::Peak>| {
            rated_a * peak.map_or(1.0, |peak| peak.percent / 100.0)
        };
        let feeds = floor.feeds.iter().zip(&true_a.feeds);
        let supplies = floor.supplies.iter().zip(&true_a.supplies);
        let circuits = floor.circuits.iter().zip(&true_a.circuits);
        panels
            .chain(feeds.map(|(of, &a)| (of.name.clone(), a, most(of.fuse_a.0, of.peak))))
            .chain(supplies.map(|(of, &a)| (of.name.clone(), a, most(of.rated_a.0, of.peak))))
            .chain(circuits.map(|(of, &a)| (of.name.clone(), a, of.rated_a.0)))
            .chain((floor.cap.floor_va).map(|va| ("floor".to_owned(), self.true_va(&true_a), va)))
            .map(|(name, draw_a, rated_a)| (name, draw_a / (rated_a * floor.cap.margin)))
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .unwrap_or_default()
    }
}

/// Port-Addresses that a node outputs.
pub fn outputs_of(tables: &Tables, node: usize) -> Vec<PortAddress> {
    let of_node = tables
        .outputs
        .iter()
        .filter(|u| u.node.is_some_and(|n| n as usize == node));
    of_node.map(|universe| universe.port_address).collect()
}
