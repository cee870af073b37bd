//! The floor, its nodes and the console, and what has been seen of them.

use std::collections::HashMap;
use std::fs;
use std::net::{Ipv4Addr, SocketAddr, SocketAddrV4, UdpSocket};
use std::os::fd::AsFd;
use std::path::PathBuf;

use artnet_protocol::{ArtCommand, Output};
use litfloor::floor::model::Floor;
use litfloor::floor::tables::{Tables, UNIVERSE_SLOTS};
use litfloor::net::clock::Clock;
use litfloor::sim::link::Chance;
use litfloor::sim::node::{Character, SimNode};
use litfloor::sim::truth::Truth;
use litfloor::units::Time;
use litfloor::wire::PortAddress;
use nix::poll::{PollFd, PollFlags, PollTimeout, poll};

use super::daemon::Daemon;
use super::people::People;
use super::tally::Tally;

/// A console's pace, a little under DMX512-A's 44 frames a second.
const FRAME_US: u64 = 25_000;

/// How long all may take to come to rest.
const PATIENCE_US: u64 = 20_000_000;

/// How often descriptors are counted for one sample.
const LOOKS: usize = 10;

/// `[delivery] copies` of the demo's floor: of so many in a row at least one arrives.
const COPIES: u8 = 3;

/// One universe as the console has it.
pub(crate) struct Universe {
    pub(crate) address: PortAddress,
    node: usize,
    /// Which slots light something.
    mapped: Vec<bool>,
    pub(crate) slots: [u8; UNIVERSE_SLOTS],
    pub(crate) sequence: u8,
}

/// A moment of quiet: seconds since the begin, bytes, descriptors.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sample {
    pub(crate) s: f64,
    pub(crate) memory: u64,
    pub(crate) descriptors: usize,
}

/// What has been seen.
#[derive(Default)]
pub(crate) struct Seen {
    /// Faults that were made, by name.
    pub(crate) faults: std::collections::BTreeMap<&'static str, u64>,
    /// What did not end in its outcome.
    pub(crate) amiss: Vec<String>,
    /// The most that any limit was used, and where.
    pub(crate) highest: (f64, String),
    /// How often a limit was passed.
    pub(crate) over: u64,
    pub(crate) checks: u64,
    pub(crate) pictures: u64,
    pub(crate) samples: Vec<Sample>,
    /// What was open at the first of them, and at the last.
    pub(crate) open_at_first: Vec<String>,
    pub(crate) open_at_last: Vec<String>,
    /// Milliseconds from the kill to the first frame at a node.
    pub(crate) recovered_ms: Vec<u64>,
    pub(crate) noted: u64,
    pub(crate) lost_at_nodes: u64,
    pub(crate) frames_at_nodes: u64,
    pub(crate) sent: Tally,
}

pub(crate) struct Stage {
    program: PathBuf,
    files: tempfile::TempDir,
    pub(crate) text: String,
    floor: Floor,
    truth: Truth,
    pub(crate) daemon: Daemon,
    pub(crate) clock: Clock,
    pub(crate) universes: Vec<Universe>,
    sockets: Vec<UdpSocket>,
    pub(crate) nodes: Vec<SimNode>,
    /// Datagrams in a row that a node lost, by node and universe.
    lost: HashMap<(usize, u16), u8>,
    /// The share of datagrams that get lost on their way to a node.
    pub(crate) loss: f64,
    pub(crate) console: UdpSocket,
    /// A second console was heard until then.
    pub(crate) joined_until: Time,
    /// Of the run of the program that is under way.
    pub(crate) sent: Tally,
    pub(crate) chance: Chance,
    pub(crate) people: People,
    pub(crate) seen: Seen,
    next_frame: Time,
    tick: u64,
}

impl Stage {
    pub(crate) fn set(program: PathBuf, seed: u64) -> Self {
        let files = tempfile::tempdir().expect("a directory");
        let sockets = [bind(1), bind(1)];
        let mut text = include_str!("../../config/demo.toml").to_owned();
        for (at, socket) in [21, 22].into_iter().zip(&sockets) {
            let own = format!("\"127.0.0.1\"\nport = {}", address(socket).port());
            text = text.replace(&format!("\"10.20.30.{at}\""), &own);
        }
        let floor = litfloor::floor::parse("floor.toml", &text).expect("the demo's floor is sound");
        let tables = Tables::compile(&floor);
        let path = files.path().join("floor.toml");
        fs::write(&path, &text).expect("a disk");
        let daemon = Daemon::start(&program, &path, &files.path().join("state"));
        let clock = Clock::start();
        let universes = tables.outputs.iter().map(|out| {
            let mut mapped = vec![false; UNIVERSE_SLOTS];
            for part in &out.parts {
                let first = usize::from(part.dst);
                mapped[first..first + usize::from(part.len)].fill(true);
            }
            Universe {
                address: out.port_address,
                node: out.node.map_or(0, |node| node as usize),
                mapped,
                slots: [0; UNIVERSE_SLOTS],
                sequence: 0,
            }
        });
        let universes: Vec<Universe> = universes.collect();
        let nodes = sockets.iter().enumerate().map(|(at, socket)| {
            let own = universes.iter().filter(|universe| universe.node == at);
            SimNode::new(Character {
                short_name: floor.nodes[at].name.clone(),
                long_name: format!("node {at}"),
                address: address(socket),
                outputs: own.map(|universe| universe.address).collect(),
                syncs: true,
                orders: true,
            })
        });
        Self {
            nodes: nodes.collect(),
            program,
            files,
            text,
            truth: Truth::new(&floor),
            floor,
            people: People::default(),
            daemon,
            clock,
            universes,
            sockets: sockets.into(),
            lost: HashMap::new(),
            loss: 0.0,
            console: bind(1),
            joined_until: Time::default(),
            sent: Tally::default(),
            chance: Chance::new(seed),
            seen: Seen::default(),
            next_frame: Time::default(),
            tick: 0,
        }
    }

    /// Writes another floor file, and has it read; whether it was taken.
    pub(crate) fn reload(&self, text: &str) -> bool {
        let path = self.files.path().join("floor.toml");
        fs::write(path, text).expect("a disk");
        let answer = self.daemon.ask("POST", "/api/v1/floor/reload", "");
        answer.is_some_and(|(status, _)| status == 200)
    }

    /// Another picture for every universe: bright and moving, often more than limits allow.
    pub(crate) fn paint(&mut self) {
        self.tick += 1;
        let tick = self.tick;
        for (at, universe) in (0_u64..).zip(&mut self.universes) {
            for (slot, (level, mapped)) in
                (0_u64..).zip(universe.slots.iter_mut().zip(&universe.mapped))
            {
                let wave = (tick * 7 + slot * 3 + at * 31) % 511;
                let wave = if wave > 255 { 510 - wave } else { wave };
                let flash = (tick / 80).is_multiple_of(3);
                let level_of = if flash { 255 } else { wave };
                *level = if *mapped {
                    u8::try_from(level_of).unwrap_or(255)
                } else {
                    0
                };
            }
        }
    }

    /// A picture that no limit minds, and that differs in every slot and each time.
    fn paint_dim(&mut self) {
        self.tick += 1;
        for (at, universe) in (0_u64..).zip(&mut self.universes) {
            for (slot, (level, mapped)) in
                (0_u64..).zip(universe.slots.iter_mut().zip(&universe.mapped))
            {
                let dim = 1 + (self.tick + slot + at) % 19;
                *level = if *mapped {
                    u8::try_from(dim).unwrap_or(1)
                } else {
                    0
                };
            }
        }
    }

    /// Sends all universes of the console.
    pub(crate) fn burst(&mut self) {
        for at in 0..self.universes.len() {
            self.send_one(at);
        }
    }

    pub(crate) fn send_one(&mut self, at: usize) {
        let universe = &mut self.universes[at];
        universe.sequence = universe.sequence % 255 + 1;
        let bytes = dmx(universe.address, universe.sequence, &universe.slots);
        self.send(&bytes, "taken");
    }

    /// Sends bytes that are to end in that outcome.
    pub(crate) fn send(&mut self, bytes: &[u8], outcome: &'static str) {
        self.console
            .send_to(bytes, self.daemon.artnet)
            .expect("loopback");
        self.sent.count(outcome);
    }

    /// Plays so many frames of the console.
    pub(crate) fn play(&mut self, frames: u64) {
        for _ in 0..frames {
            self.paint();
            self.burst();
            self.wait_frame();
        }
    }

    /// Lets the rest of a frame's time pass.
    pub(crate) fn wait_frame(&mut self) {
        let now = self.clock.now();
        self.next_frame = self.next_frame.plus_us(FRAME_US).max(now);
        self.pump(self.next_frame);
    }

    /// Takes what comes to the nodes until then.
    pub(crate) fn pump(&mut self, until: Time) {
        loop {
            let now = self.clock.now();
            let left_ms = until.us_since(now).div_ceil(1_000);
            let timeout = PollTimeout::try_from(left_ms).unwrap_or(PollTimeout::ZERO);
            let mut wanted: Vec<PollFd<'_>> = self
                .sockets
                .iter()
                .map(|socket| PollFd::new(socket.as_fd(), PollFlags::POLLIN))
                .collect();
            poll(&mut wanted, timeout).expect("poll");
            let took = self.take_all();
            if took == 0 && self.clock.now() >= until {
                return;
            }
            if self.clock.now() >= until.plus_us(FRAME_US) {
                return;
            }
        }
    }

    fn take_all(&mut self) -> usize {
        let mut buffer = [0; 2_048];
        let mut took = 0;
        // In turns, so that what one node shows is no older than what the other does.
        loop {
            let before = took;
            for at in 0..self.sockets.len() {
                let Ok((length, SocketAddr::V4(from))) = self.sockets[at].recv_from(&mut buffer)
                else {
                    continue;
                };
                took += 1;
                self.take(at, from, &buffer[..length]);
            }
            if took == before {
                return took;
            }
        }
    }

    fn take(&mut self, at: usize, from: SocketAddrV4, bytes: &[u8]) {
        if let Ok(ArtCommand::Output(output)) = ArtCommand::from_buffer(bytes) {
            self.seen.frames_at_nodes += 1;
            let key = (at, u16::from(output.port_address));
            let row = self.lost.entry(key).or_default();
            if *row + 1 < COPIES && self.chance.share() < self.loss {
                *row += 1;
                self.seen.lost_at_nodes += 1;
                return;
            }
            *row = 0;
        }
        let now = self.clock.now();
        for reply in self.nodes[at].handle(now, from, bytes) {
            self.sockets[at].send_to(&reply, from).expect("loopback");
            if from == self.daemon.artnet {
                self.sent.count("poll_reply");
            }
        }
        self.check_limits();
    }

    /// Holds what the nodes show now against every limit of the floor file.
    fn check_limits(&mut self) {
        let amperes = self.truth.amperes(&self.nodes);
        let margin = self.floor.cap.margin;
        let feeds = self
            .floor
            .feeds
            .iter()
            .map(|feed| (&feed.name, feed.fuse_a));
        let supplies = self
            .floor
            .supplies
            .iter()
            .map(|supply| (&supply.name, supply.rated_a));
        let circuits = self
            .floor
            .circuits
            .iter()
            .map(|circuit| (&circuit.name, circuit.rated_a));
        let rated = feeds.chain(supplies).chain(circuits);
        let drawn = [amperes.feeds, amperes.supplies, amperes.circuits].concat();
        let mut over = false;
        for ((name, rated), drawn) in rated.zip(drawn) {
            let share = drawn / (rated.0 * margin);
            // Floating point here, whole numbers there.
            over |= share > 1.0 + 1e-9;
            if share > self.seen.highest.0 {
                self.seen.highest = (share, name.clone());
            }
        }
        self.seen.checks += 1;
        self.seen.over += u64::from(over);
    }

    /// Whether every node that is on shows what the console sends.
    fn is_shown(&self) -> bool {
        self.universes.iter().all(|universe| {
            let held = self.nodes[universe.node].held(universe.address);
            held.is_some_and(|held| *held == universe.slots)
        })
    }

    /// All trouble ends: the nodes must show the picture, and every datagram must be accounted for.
    pub(crate) fn reconcile(&mut self) {
        self.loss = 0.0;
        self.people.go();
        let _ = self.daemon.ask("DELETE", "/api/v1/pattern", "");
        let _ = self
            .daemon
            .ask("PUT", "/api/v1/limit", r#"{"floor_va": null}"#);
        let text = self.text.clone();
        if !self.reload(&text) {
            self.seen
                .amiss
                .push("the right floor file was not taken".to_owned());
        }
        self.paint_dim();
        let deadline = self.clock.now().plus_us(PATIENCE_US);
        while self.clock.now() < deadline {
            self.burst();
            self.wait_frame();
            if self.clock.now() > self.joined_until && self.is_shown() {
                break;
            }
        }
        self.seen.pictures += 1;
        if !self.is_shown() {
            let text = format!("after {:.0} s the nodes don't show the picture", self.s());
            self.seen.amiss.push(text);
        }
        let deadline = self.clock.now().plus_us(PATIENCE_US / 4);
        loop {
            self.pump(self.clock.now().plus_ms(50));
            let state = self.daemon.state();
            let differs = self.sent.against(&state);
            if differs.is_empty() {
                return;
            }
            if self.clock.now() > deadline {
                let s = self.s();
                for (outcome, sent, counted) in differs {
                    let text = format!("after {s:.0} s {outcome}: {sent} sent, {counted} counted");
                    self.seen.amiss.push(text);
                }
                return;
            }
        }
    }

    /// Seconds since the begin.
    pub(crate) fn s(&self) -> f64 {
        self.clock.now().s_since(Time::default())
    }

    /// Notes memory and descriptors when nobody is there any more: of several looks the one with the fewest, for
    /// a connection over which something was just asked is closed a moment later.
    pub(crate) fn sample(&mut self) {
        let mut open = self.daemon.descriptors();
        for _ in 1..LOOKS {
            self.pump(self.clock.now().plus_ms(50));
            let now = self.daemon.descriptors();
            if now.len() < open.len() {
                open = now;
            }
        }
        let sample = Sample {
            s: self.s(),
            memory: self.daemon.memory(),
            descriptors: open.len(),
        };
        if self.seen.samples.is_empty() {
            self.seen.open_at_first.clone_from(&open);
        }
        self.seen.open_at_last = open;
        self.seen.samples.push(sample);
    }

    /// `kill -9`, and started again. Nothing is under way that could be lost.
    pub(crate) fn kill_and_start(&mut self) {
        self.reconcile();
        self.seen.sent.add(&self.sent);
        self.sent = Tally::default();
        self.daemon.kill();
        // What was on its way to the nodes.
        self.take_all();
        let before = self.seen.frames_at_nodes;
        let begun = self.clock.now();
        let state = self.files.path().join("state");
        self.daemon = Daemon::start(&self.program, &self.files.path().join("floor.toml"), &state);
        while self.seen.frames_at_nodes == before {
            self.play(1);
            assert!(
                self.clock.now().us_since(begun) < PATIENCE_US,
                "no frame after the start"
            );
        }
        let took = self.clock.now().us_since(begun) / 1_000;
        self.seen.recovered_ms.push(took);
    }

    /// How many notes of the soak the book has.
    pub(crate) fn notes_in_book(&self) -> u64 {
        let answer = self.daemon.ask("GET", "/api/v1/book/export.json", "");
        let (_, body) = answer.expect("the book can be had");
        body.matches("\"soak note ").count() as u64
    }
}

/// A socket at 127.0.0.`last`.
pub(crate) fn bind(last: u8) -> UdpSocket {
    let socket = UdpSocket::bind((Ipv4Addr::new(127, 0, 0, last), 0)).expect("loopback");
    socket.set_nonblocking(true).expect("a socket");
    socket
}

fn address(socket: &UdpSocket) -> SocketAddrV4 {
    let Ok(SocketAddr::V4(address)) = socket.local_addr() else {
        panic!("not IPv4");
    };
    address
}

/// A frame, by an independent library.
pub(crate) fn dmx(address: PortAddress, sequence: u8, slots: &[u8]) -> Vec<u8> {
    let output = Output {
        port_address: address.number().try_into().expect("15 bits"),
        sequence,
        data: slots.to_vec().into(),
        ..Output::default()
    };
    ArtCommand::Output(output)
        .write_to_buffer()
        .expect("a frame")
}
