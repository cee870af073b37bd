//! An engine, and around it a network on which somebody keeps watch. Nothing is lost or late there, which is
//! within what `[delivery]` of the floor file says, so every promise of the engine must hold.

use std::net::{Ipv4Addr, SocketAddrV4};
use std::sync::{Arc, Once};

use litfloor::engine::command::Command;
use litfloor::engine::out::{Datagram, Outlet};
use litfloor::engine::snapshot::{PatternState, State};
use litfloor::engine::standby::{Duty, Key, Role, Setup};
use litfloor::engine::{Engine, Me};
use litfloor::pattern::Refused;
use litfloor::sim::node::{Character, SimNode};
use litfloor::sim::truth::Truth;
use litfloor::units::Time;
use litfloor::wire::beat::Beat;
use litfloor::wire::{self, Packet, PortAddress, dmx};

use crate::MADE;

/// Where the engine listens.
const OWN: SocketAddrV4 = SocketAddrV4::new(Ipv4Addr::new(10, 0, 0, 2), wire::PORT);

/// A console, for targets that only need a picture.
pub const CONSOLE: SocketAddrV4 = SocketAddrV4::new(Ipv4Addr::new(10, 0, 0, 5), wire::PORT);

/// Where another litfloor leads, for which this one stands by; what both know, and their runs.
const OTHER: SocketAddrV4 = SocketAddrV4::new(Ipv4Addr::new(10, 0, 0, 3), wire::PORT);
const KEY: Key = [7; 32];
const OTHER_RUN: u64 = 11;
const OWN_RUN: u64 = 22;

/// The longest that one execution may last, in the engine's time: what comes later takes no time.
const MOST_MS: u64 = 60_000;

/// A witness adds floating-point numbers: a part in a thousand million.
const NEAR: f64 = 1.0 + 1e-9;

/// An engine and what surrounds it.
pub struct World {
    pub engine: Engine,
    pub now: Time,
    handled: u64,
    net: Net,
}

/// The network: who is on it, and whose datagram is being answered.
#[derive(Clone)]
struct Net {
    truth: Truth,
    nodes: Vec<SimNode>,
    now: Time,
    /// The one who may be answered, while a poll is being handled.
    poller: Option<SocketAddrV4>,
    /// Whether the system takes nothing: the cable is out.
    down: bool,
    /// What nodes answer, to be handled next.
    answers: Vec<(SocketAddrV4, Vec<u8>)>,
    sent: u64,
}

impl Outlet for Net {
    fn send(&mut self, datagram: Datagram<'_>) -> bool {
        let (to, bytes) = (datagram.to(), datagram.to_vec());
        if Beat::looks_like(&bytes) {
            assert_eq!(to, OTHER, "a beat leaves for one who does not stand by");
            return !self.down;
        }
        let packet = wire::read(&bytes).expect("what leaves is Art-Net");
        let at = self
            .nodes
            .iter()
            .position(|node| node.character().address == to);
        match packet {
            Packet::PollReply(_) => {
                assert_eq!(
                    Some(to),
                    self.poller,
                    "a poll reply leaves for one who did not ask"
                );
                return !self.down;
            }
            Packet::Poll(_) if to == OTHER => return !self.down,
            Packet::Dmx(_) | Packet::Sync | Packet::Poll(_) => {}
            Packet::Other(code) => panic!("a packet of the kind {code:#06x} leaves"),
        }
        let at = at.unwrap_or_else(|| panic!("{to} is no node of the floor file: {bytes:?}"));
        if self.down {
            return false;
        }
        self.sent += 1;
        let replies = self.nodes[at].handle(self.now, OWN, &bytes);
        self.answers
            .extend(replies.into_iter().map(|reply| (to, reply)));
        self.within_limits();
        true
    }
}

impl Net {
    /// Every sum of limits is kept by what the nodes really show now.
    fn within_limits(&self) {
        if let Some(passed) = self.passed() {
            panic!("{passed}");
        }
    }

    /// A limit that is passed.
    fn passed(&self) -> Option<String> {
        let (floor, is) = (&MADE.floor, self.truth.amperes(&self.nodes));
        let margin = floor.cap.margin;
        let kept = |name: String, draw: f64, rated: f64| {
            let passed = draw > rated * margin * NEAR;
            passed.then(|| format!("{name} draws {draw} A of {rated} A × {margin}"))
        };
        let circuits = floor.circuits.iter().zip(&is.circuits);
        let supplies = floor.supplies.iter().zip(&is.supplies);
        let feeds = floor.feeds.iter().zip(&is.feeds);
        let panels = floor.panels.iter().zip(&is.panels);
        let va: f64 = circuits.clone().map(|(of, draw)| of.volts.0 * draw).sum();
        let most = floor.cap.floor_va.unwrap_or(f64::INFINITY);
        let floor_passed = va > most * NEAR;
        circuits
            .filter_map(|(of, draw)| kept(of.name.clone(), *draw, of.rated_a.0))
            .chain(supplies.filter_map(|(of, draw)| kept(of.name.clone(), *draw, of.rated_a.0)))
            .chain(feeds.filter_map(|(of, draw)| kept(of.name.clone(), *draw, of.fuse_a.0)))
            .chain(panels.filter_map(|(of, draw)| {
                let rated = floor.panel_kinds[of.kind].rated_a?;
                kept(of.position.to_string(), *draw, rated.0)
            }))
            .chain(floor_passed.then(|| format!("the floor takes {va} VA of {most} VA")))
            .next()
    }

    /// The witness would see it: with full white at every node limits are passed.
    fn sees(mut self) {
        for out in &MADE.tables.outputs {
            let at = out.node.expect("every universe has a node") as usize;
            let mut buffer = [0; dmx::LARGEST];
            let white = dmx::write(&mut buffer, 0, 0, out.port_address, &[255; 512]);
            self.nodes[at].handle(self.now, OWN, white);
        }
        assert!(self.passed().is_some(), "the witness is blind");
    }
}

impl World {
    /// A floor that has just begun; `kinds` says what its nodes are like, and whether it stands by for another
    /// litfloor.
    pub fn new(kinds: u8) -> Self {
        let made = &*MADE;
        let nodes = made.floor.nodes.iter().enumerate().map(|(at, node)| {
            SimNode::new(Character {
                short_name: node.name.clone(),
                long_name: node.name.clone(),
                address: node.address,
                outputs: outputs_of(at),
                syncs: kinds & 1 << (2 * at) != 0,
                orders: kinds & 2 << (2 * at) != 0,
            })
        });
        let me = Me {
            listener: SocketAddrV4::new(Ipv4Addr::UNSPECIFIED, wire::PORT),
            interfaces: vec![(*OWN.ip(), Ipv4Addr::new(255, 255, 255, 0))],
        };
        let now = Time::from_ms(1);
        let mut engine = Engine::new(Arc::clone(&made.floor), Arc::clone(&made.tables), me, now);
        if kinds & 0x80 != 0 {
            let setup = Setup {
                role: Role::Second,
                peer: OTHER,
                key: KEY,
                run: OWN_RUN,
            };
            engine.set_standby(setup, now);
        }
        let net = Net {
            truth: Truth::new(&made.floor),
            nodes: nodes.collect(),
            now,
            poller: None,
            down: false,
            answers: Vec::new(),
            sent: 0,
        };
        static LOOKED: Once = Once::new();
        LOOKED.call_once(|| net.clone().sees());
        Self {
            engine,
            now,
            handled: 0,
            net,
        }
    }

    /// A datagram arrives, then what nodes answer to what that made leave.
    pub fn arrives(&mut self, from: SocketAddrV4, bytes: &[u8]) {
        self.take(from, bytes);
        self.answered();
    }

    fn take(&mut self, from: SocketAddrV4, bytes: &[u8]) {
        let polls = matches!(wire::read(bytes), Ok(Packet::Poll(_)));
        self.net.poller = polls.then_some(from);
        self.handled += 1;
        self.engine.foresee(std::iter::once(bytes));
        self.engine.handle(self.now, from, bytes, &mut self.net);
        self.net.poller = None;
    }

    fn answered(&mut self) {
        // Answers to polls make nothing leave, so this ends.
        while let Some((from, reply)) = self.net.answers.pop() {
            self.take(from, &reply);
        }
    }

    /// Lets time pass, with ticks when the engine wants them.
    pub fn passes(&mut self, ms: u64) {
        let until = self
            .now
            .plus_ms(ms)
            .min(Time::from_ms(MOST_MS))
            .max(self.now);
        loop {
            let next = self.engine.next_tick().max(self.now.plus_us(1));
            self.now = next.min(until);
            self.net.now = self.now;
            if next > until {
                return;
            }
            self.engine.tick(self.now, &mut self.net);
            self.answered();
            for node in &mut self.net.nodes {
                node.settle(self.now);
            }
            self.net.within_limits();
        }
    }

    /// The other litfloor says something. Its picture is the console's, and no brighter than ours would be.
    pub fn beats(&mut self, what: u8, floor_va: u8) {
        let beat = Beat {
            role: Role::First,
            duty: [Duty::StandsBy, Duty::Leads, Duty::Ends][usize::from(what % 3)],
            wants: what & 0x40 != 0,
            blind: floor_va & 1 != 0,
            file: 0,
            run: OTHER_RUN + u64::from(what >> 7),
            number: self.handled,
            // Ours has another number whenever it begins anew to listen.
            heard: OWN_RUN + u64::from(what >> 3 & 7),
            floor_va: (floor_va > 0).then_some(u32::from(floor_va)),
        };
        self.arrives(OTHER, &beat.write(&KEY));
    }

    /// Somebody gives an order.
    pub fn command(&mut self, command: Command) -> Result<Option<PatternState>, Refused> {
        let done = self.engine.command(self.now, command, &mut self.net);
        self.answered();
        done
    }

    /// The cable is pulled out or put back in.
    pub fn turns(&mut self, down: bool) {
        self.net.down = down;
    }

    /// The system says later that it did not take what was sent to a node.
    pub fn refuses(&mut self, node: usize) {
        let nodes = &self.net.nodes;
        let to = nodes[node % nodes.len()].character().address;
        self.engine.refused(to, self.now);
    }

    /// Datagrams to nodes so far.
    pub fn sent(&self) -> u64 {
        self.net.sent
    }

    /// What people would be told, once all tables were found no larger than they may be.
    pub fn state(&self) -> State {
        let state = self.engine.state(self.now);
        let mapped = MADE.tables.universes.len();
        assert!(state.universes.len() <= mapped + 64, "unmapped universes");
        assert!(state.strangers.len() <= 32, "strangers");
        assert!(
            state.nodes.iter().all(|node| node.ports.len() <= 64 * 4),
            "ports of a node"
        );
        assert!(
            state.universes.iter().all(|of| of.sources.len() <= 3),
            "sources of a universe"
        );
        assert!(state.presses.len() <= 64, "presses");
        let counted: u64 = state.datagrams.values().sum();
        assert_eq!(counted, self.handled, "each datagram has one outcome");
        let json = serde_json::to_vec(&state).expect("a state can be written");
        assert!(json.len() < 1 << 20, "a state of {} bytes", json.len());
        state
    }

    /// One frame of one universe, as a console would write it.
    pub fn dmx(&mut self, from: SocketAddrV4, sequence: u8, universe: u16, slots: &[u8]) {
        let address = PortAddress::new(universe & PortAddress::MAX).expect("15 bits");
        let mut buffer = [0; dmx::LARGEST];
        let bytes = dmx::write(&mut buffer, sequence, 0, address, slots).to_vec();
        self.arrives(from, &bytes);
    }
}

fn outputs_of(node: usize) -> Vec<PortAddress> {
    let all = MADE.tables.outputs.iter();
    let own = all.filter(|out| out.node.map(|of| of as usize) == Some(node));
    own.map(|out| out.port_address).collect()
}
