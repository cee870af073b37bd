//! A small floor whose engine is driven datagram by datagram; all that leaves is recorded.

use std::fmt::Write;
use std::net::{Ipv4Addr, SocketAddrV4};
use std::sync::Arc;

use artnet_protocol::ArtCommand;
use litfloor::engine::command::Command;
use litfloor::engine::out::{Datagram, Outlet};
use litfloor::engine::snapshot::{PatternState, State};
use litfloor::engine::tally::Outcome;
use litfloor::engine::{Engine, Me};
use litfloor::floor::tables::Tables;
use litfloor::pattern::Refused;
use litfloor::units::Time;

/// Slots of one panel of the small floor: two pixels of red, green and blue.
pub const SLOTS: usize = 6;

/// Two consoles and a third.
pub const A: Ipv4Addr = Ipv4Addr::new(10, 9, 0, 1);
pub const B: Ipv4Addr = Ipv4Addr::new(10, 9, 0, 2);
pub const C: Ipv4Addr = Ipv4Addr::new(10, 9, 0, 3);

/// 14 bytes (Art-Net 4).
pub const SYNC: &[u8] = b"Art-Net\0\x00\x52\x00\x0e\x00\x00";

/// One panel for each run, `(node, start)`; without nodes if every node is 0.
pub fn floor(runs: &[(u8, &str)], rated_a: f64, more: &str) -> String {
    let columns = runs.len();
    let mut text = format!(
        "name = \"small\"\n[grid]\ncolumns = {columns}\nrows = 1\npanel_mm = [200, 100]\n\
         panel = \"p\"\n{more}\n[pixel.d]\nslots = \"RGB\"\nvolts = 12\n\
         full_ma = {{ red = 100, green = 100, blue = 100 }}\nidle_ma = 0\n\
         [panel.p]\npixel = \"d\"\ncolumns = 2\nrows = 1\n\
         [[circuit]]\nname = \"c\"\nvolts = 230\nrated_a = 16\n\
         [[supply]]\nname = \"s\"\ncircuit = \"c\"\nvolts = 12\nrated_a = {rated_a}\n\
         efficiency = 0.9\npower_factor = 0.9\n\
         [[feed]]\nname = \"f\"\nsupply = \"s\"\nfuse_a = 20\npositions = [\"A1..{}1\"]\n",
        letter(columns - 1)
    );
    let most = runs.iter().map(|run| run.0).max().unwrap_or(0);
    for node in 1..=most {
        let _ = writeln!(
            text,
            "[[node]]\nname = \"n{node}\"\naddress = \"10.9.1.{node}\""
        );
    }
    for (at, (node, start)) in runs.iter().enumerate() {
        let node = if *node > 0 {
            format!("node = \"n{node}\"\n")
        } else {
            String::new()
        };
        let _ = writeln!(
            text,
            "[[run]]\n{node}start = \"{start}\"\npanels = [\"{}1\"]{}",
            letter(at),
            if runs[..at].iter().any(|(_, earlier)| earlier == start) {
                format!("\nsource = {{ start = \"{start}\", shared = true }}")
            } else {
                String::new()
            }
        );
    }
    text
}

fn letter(at: usize) -> char {
    char::from(b'A' + u8::try_from(at).unwrap())
}

/// Address of node `n`.
pub fn node(n: u8) -> SocketAddrV4 {
    SocketAddrV4::new(Ipv4Addr::new(10, 9, 1, n), 6454)
}

/// An `ArtDmx` byte by byte, with whatever Length field.
pub fn dmx_bytes(sequence: u8, physical: u8, universe: u16, length: u16, slots: &[u8]) -> Vec<u8> {
    let mut bytes = b"Art-Net\0\x00\x50\x00\x0e".to_vec();
    bytes.extend([sequence, physical]);
    bytes.extend(universe.to_le_bytes());
    bytes.extend(length.to_be_bytes());
    bytes.extend(slots);
    bytes
}

/// One that says the truth about its length.
pub fn dmx(sequence: u8, universe: u16, slots: &[u8]) -> Vec<u8> {
    let length = u16::try_from(slots.len()).unwrap();
    dmx_bytes(sequence, 0, universe, length, slots)
}

/// Something that left.
#[derive(Debug, Clone)]
pub struct Left {
    pub at: Time,
    pub to: SocketAddrV4,
    pub bytes: Vec<u8>,
}

impl Left {
    /// What an independent library says it is.
    pub fn decoded(&self) -> ArtCommand {
        ArtCommand::from_buffer(&self.bytes).unwrap()
    }

    pub fn opcode(&self) -> u16 {
        u16::from_le_bytes([self.bytes[8], self.bytes[9]])
    }

    /// Sequence, universe and slots, if it is an `ArtDmx`.
    pub fn dmx(&self) -> Option<(u8, u16, Vec<u8>)> {
        match self.opcode() {
            0x5000 => match self.decoded() {
                ArtCommand::Output(output) => Some((
                    output.sequence,
                    output.port_address.into(),
                    output.data.as_ref().clone(),
                )),
                other => panic!("{other:?}"),
            },
            _ => None,
        }
    }

    pub fn is_sync(&self) -> bool {
        self.bytes == SYNC
    }

    pub fn is_poll(&self) -> bool {
        self.opcode() == 0x2000
    }
}

/// The engine on a made-up clock.
pub struct Stage {
    pub engine: Engine,
    pub now: Time,
    pub left: Vec<Left>,
    /// Whether the system takes what is sent.
    pub takes: bool,
    next_tick: Time,
    taken_before: usize,
}

struct Record<'a> {
    now: Time,
    left: &'a mut Vec<Left>,
    takes: bool,
}

impl Outlet for Record<'_> {
    fn send(&mut self, datagram: Datagram<'_>) -> bool {
        if self.takes {
            self.left.push(Left {
                at: self.now,
                to: datagram.to(),
                bytes: datagram.to_vec(),
            });
        }
        self.takes
    }
}

impl Stage {
    pub fn new(text: &str) -> Self {
        let floor = litfloor::floor::parse("small.toml", text)
            .unwrap_or_else(|faults| panic!("{}\n{text}", faults.render(false)));
        let tables = Arc::new(Tables::compile(&floor));
        let now = Time::from_ms(1);
        let me = Me {
            listener: SocketAddrV4::new(Ipv4Addr::UNSPECIFIED, 6454),
            interfaces: vec![(Ipv4Addr::new(10, 9, 0, 99), Ipv4Addr::new(255, 255, 0, 0))],
        };
        Self {
            engine: Engine::new(Arc::new(floor), tables, me, now),
            now,
            left: Vec::new(),
            takes: true,
            next_tick: now,
            taken_before: 0,
        }
    }

    /// Of the usual kind: one node, universes 0:0:1 and 0:0:2, no limit near.
    pub fn usual(more: &str) -> Self {
        Self::new(&floor(&[(1, "0:0:1"), (1, "0:0:2")], 20.0, more))
    }

    pub fn arrives(&mut self, from: SocketAddrV4, bytes: &[u8]) -> Outcome {
        let mut record = Record {
            now: self.now,
            left: &mut self.left,
            takes: self.takes,
        };
        let outcome = self.engine.handle(self.now, from, bytes, &mut record);
        self.next_tick = self.engine.next_tick();
        outcome
    }

    /// From a console at the usual port.
    pub fn console(&mut self, from: Ipv4Addr, bytes: &[u8]) -> Outcome {
        self.arrives(SocketAddrV4::new(from, 6454), bytes)
    }

    /// Someone gives an order.
    pub fn command(&mut self, command: Command) -> Result<Option<PatternState>, Refused> {
        let mut record = Record {
            now: self.now,
            left: &mut self.left,
            takes: self.takes,
        };
        let done = self.engine.command(self.now, command, &mut record);
        self.next_tick = self.engine.next_tick();
        done
    }

    /// Lets `ms` pass.
    pub fn pass(&mut self, ms: u64) {
        let until = self.now.plus_ms(ms);
        while self.next_tick <= until {
            self.now = self.next_tick.max(self.now);
            let mut record = Record {
                now: self.now,
                left: &mut self.left,
                takes: self.takes,
            };
            self.engine.tick(self.now, &mut record);
            self.next_tick = self.engine.next_tick();
        }
        self.now = until;
    }

    /// litfloor is told to end; gives what leaves until it has.
    pub fn ends(&mut self) -> Vec<Left> {
        self.news();
        if let Some(until) = self.engine.begin_to_end(self.now) {
            while self.now < until {
                let mut record = Record {
                    now: self.now,
                    left: &mut self.left,
                    takes: self.takes,
                };
                self.now = self.engine.go_dark(self.now, &mut record);
            }
        }
        self.news()
    }

    /// What left since the last call.
    pub fn news(&mut self) -> Vec<Left> {
        let news = self.left[self.taken_before..].to_vec();
        self.taken_before = self.left.len();
        news
    }

    pub fn state(&self) -> State {
        self.engine.state(self.now)
    }

    /// Slots asked of panel `at`.
    pub fn asked(&self, at: usize) -> [u8; SLOTS] {
        let (mut sent, mut asked) = (Vec::new(), Vec::new());
        self.engine.levels(&mut sent, &mut asked);
        asked[at * SLOTS..][..SLOTS].try_into().unwrap()
    }

    /// Slots sent to panel `at`.
    pub fn sent(&self, at: usize) -> [u8; SLOTS] {
        let (mut sent, mut asked) = (Vec::new(), Vec::new());
        self.engine.levels(&mut sent, &mut asked);
        sent[at * SLOTS..][..SLOTS].try_into().unwrap()
    }

    pub fn has_notice(&self, code: &str) -> bool {
        self.state()
            .notices
            .iter()
            .any(|notice| notice.code == code)
    }
}
