//! A made-up network that loses, delays, reorders and doubles datagrams, within what the floor
//! file's `delivery` promises: of so many in a row for one node and universe at least one
//! arrives, and none later than so many milliseconds.

use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};
use std::net::SocketAddrV4;

use crate::floor::model::Delivery;
use crate::units::Time;

/// Numbers that look like chance and are the same for the same seed (splitmix64).
#[derive(Debug, Clone)]
pub struct Chance(u64);

impl Chance {
    /// From a seed.
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next 64 bits.
    pub const fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// From 0 to just under 1.
    #[expect(clippy::cast_precision_loss, reason = "53 bits fit")]
    pub fn share(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// From 0 to `most`, both included.
    pub const fn up_to(&mut self, most: u64) -> u64 {
        // The bias of the remainder is far below what a test of this kind can see.
        self.bits() % most.saturating_add(1)
    }

    /// From the normal distribution with mean 0 and standard deviation 1 (Box and Muller, 1958).
    pub fn normal(&mut self) -> f64 {
        // 1 − share is never 0.
        let far = (-2.0 * (1.0 - self.share()).ln()).sqrt();
        far * (std::f64::consts::TAU * self.share()).cos()
    }
}

/// How bad the network is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weather {
    /// Probability that a datagram is lost, 0 to 1.
    pub loss: f64,
    /// Probability that one that arrives arrives twice, 0 to 1.
    pub double: f64,
    /// What is never broken, however bad it is.
    pub delivery: Delivery,
}

/// A datagram on its way.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Datagram {
    /// When it arrives.
    pub at: Time,
    /// Counts up as datagrams are sent, so that equal moments keep their order.
    serial: u64,
    /// Where it goes.
    pub to: SocketAddrV4,
    /// What it carries.
    pub bytes: Vec<u8>,
}

/// The network.
#[derive(Debug, Clone)]
pub struct Link {
    weather: Weather,
    chance: Chance,
    serial: u64,
    flying: BinaryHeap<Reverse<Datagram>>,
    lost_in_a_row: HashMap<(SocketAddrV4, Kind), u8>,
    lost: u64,
}

impl Link {
    /// A network whose bad luck follows from `seed`.
    pub fn new(seed: u64, weather: Weather) -> Self {
        Self {
            weather,
            chance: Chance::new(seed),
            serial: 0,
            flying: BinaryHeap::new(),
            lost_in_a_row: HashMap::new(),
            lost: 0,
        }
    }

    /// A datagram leaves for `to`.
    pub fn send(&mut self, now: Time, to: SocketAddrV4, bytes: &[u8]) {
        let row = self.lost_in_a_row.entry((to, kind(bytes))).or_default();
        let may_be_lost = row.saturating_add(1) < self.weather.delivery.copies;
        if may_be_lost && self.chance.share() < self.weather.loss {
            *row += 1;
            self.lost += 1;
            return;
        }
        *row = 0;
        self.fly(now, to, bytes);
        if self.chance.share() < self.weather.double {
            self.fly(now, to, bytes);
        }
    }

    fn fly(&mut self, now: Time, to: SocketAddrV4, bytes: &[u8]) {
        let delay_us = self
            .chance
            .up_to(u64::from(self.weather.delivery.late_ms) * 1_000);
        self.serial += 1;
        self.flying.push(Reverse(Datagram {
            at: now.plus_us(delay_us),
            serial: self.serial,
            to,
            bytes: bytes.to_vec(),
        }));
    }

    /// When the next datagram arrives; nothing if none is on its way.
    pub fn next_time(&self) -> Option<Time> {
        self.flying.peek().map(|Reverse(datagram)| datagram.at)
    }

    /// What has arrived by `now`, in the order of arrival.
    pub fn due(&mut self, now: Time) -> Vec<Datagram> {
        let mut due = Vec::new();
        while self.next_time().is_some_and(|at| at <= now) {
            due.extend(self.flying.pop().map(|Reverse(datagram)| datagram));
        }
        due
    }

    /// Datagrams lost so far.
    pub const fn lost(&self) -> u64 {
        self.lost
    }
}

/// What is counted apart: the OpCode and, of an `ArtDmx`, the Port-Address. A poll that arrives
/// is no comfort for the syncs that were lost before and after it.
type Kind = (Option<[u8; 2]>, Option<[u8; 2]>);

/// Read where Art-Net 4 says that the fields lie.
fn kind(bytes: &[u8]) -> Kind {
    let field = |at: usize| Some([*bytes.get(at)?, *bytes.get(at + 1)?]);
    let opcode = field(8);
    (
        opcode,
        (opcode == Some([0x00, 0x50])).then(|| field(14)).flatten(),
    )
}

#[cfg(test)]
mod tests {
    use std::net::Ipv4Addr;

    use super::*;
    use crate::wire::{PortAddress, dmx};

    const TO: SocketAddrV4 = SocketAddrV4::new(Ipv4Addr::LOCALHOST, 6454);

    fn link(seed: u64, loss: f64) -> Link {
        let delivery = Delivery {
            copies: 3,
            late_ms: 20,
        };
        Link::new(
            seed,
            Weather {
                loss,
                double: 0.1,
                delivery,
            },
        )
    }

    fn frame(universe: u16, value: u16) -> Vec<u8> {
        let mut buffer = [0; dmx::LARGEST];
        let address = PortAddress::new(universe).unwrap();
        dmx::write(&mut buffer, 1, 0, address, &value.to_be_bytes()).to_vec()
    }

    #[test]
    fn the_generator_is_splitmix64() {
        // First outputs for seed 1234567 as published with the algorithm (from memory).
        let mut chance = Chance::new(1_234_567);
        assert_eq!(chance.bits(), 6_457_827_717_110_365_317);
        assert_eq!(chance.bits(), 3_203_168_211_198_807_973);
        let shares: Vec<_> = (0..1_000).map(|_| chance.share()).collect();
        assert!(shares.iter().all(|share| (0.0..1.0).contains(share)));
        assert!((shares.iter().sum::<f64>() / 1_000.0 - 0.5).abs() < 0.05);
    }

    #[test]
    fn never_loses_as_many_in_a_row_as_there_are_copies() {
        for loss in [0.3, 1.0] {
            let mut link = link(11, loss);
            let mut row = [0_u8; 2];
            for value in 0..2_000_u16 {
                for universe in [1, 2] {
                    link.send(
                        Time::from_ms(u64::from(value) * 100),
                        TO,
                        &frame(universe, value),
                    );
                    let arrived = link.due(Time::from_ms(u64::from(value) * 100 + 20));
                    let row = &mut row[usize::from(universe) - 1];
                    *row = if arrived.is_empty() { *row + 1 } else { 0 };
                    assert!(*row <= 2);
                }
            }
            // All that the promise lets it lose is two of three.
            if loss >= 1.0 {
                assert_eq!(link.lost(), 2 * (2_000 - 2_000 / 3));
            } else {
                assert!((500..1_300).contains(&link.lost()), "{}", link.lost());
            }
        }
    }

    #[test]
    fn polls_between_do_not_let_more_syncs_be_lost() {
        let mut link = link(3, 1.0);
        let mut arrived = Vec::new();
        for round in 0..300_u64 {
            link.send(Time::from_ms(round), TO, &crate::wire::sync::BYTES);
            link.send(Time::from_ms(round), TO, &crate::wire::poll::write());
            arrived.extend(link.due(Time::from_ms(round)));
        }
        arrived.extend(link.due(Time::from_s(10)));
        let of = |code: u8| arrived.iter().filter(|d| d.bytes[9] == code).count();
        // Two of three in a row may be lost; some arrive twice.
        assert!(of(0x52) >= 100 && of(0x20) >= 100);
    }

    #[test]
    fn delays_reorders_and_doubles_but_is_never_late() {
        let mut link = link(5, 0.0);
        for value in 0..500_u16 {
            link.send(Time::from_ms(u64::from(value)), TO, &frame(1, value));
        }
        let arrived = link.due(Time::from_ms(10_000));
        assert_eq!(link.next_time(), None);
        let mut seen = vec![0; 500];
        let mut overtaken = 0;
        let mut newest = 0;
        for datagram in &arrived {
            let value = u16::from_be_bytes([datagram.bytes[18], datagram.bytes[19]]);
            seen[usize::from(value)] += 1;
            overtaken += u32::from(value < newest);
            newest = newest.max(value);
            let sent = Time::from_ms(u64::from(value));
            assert!(datagram.at >= sent && datagram.at.us_since(sent) <= 20_000);
        }
        assert!(seen.iter().all(|count| (1..=2).contains(count)));
        assert!(seen.contains(&2) && overtaken > 100);
        assert!(arrived.windows(2).all(|pair| pair[0].at <= pair[1].at));
    }

    #[test]
    fn the_same_seed_gives_the_same_weather() {
        let run = |seed| {
            let mut link = link(seed, 0.4);
            (0..100).for_each(|value| link.send(Time::from_ms(value), TO, &frame(1, 0)));
            link.due(Time::from_s(1))
                .iter()
                .map(|datagram| datagram.at)
                .collect::<Vec<_>>()
        };
        assert_eq!(run(3), run(3));
        assert_ne!(run(3), run(4));
    }
}
