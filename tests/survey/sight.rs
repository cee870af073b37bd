//! What people on the floor see: flashes, counted on what was really sent.

use std::collections::HashMap;
use std::net::SocketAddrV4;

use litfloor::floor::model::Colour;
use litfloor::units::Time;
use litfloor::wire::PortAddress;

use super::flashes::Flashes;
use super::support::{Sent, World};

/// Counters of every segment, every panel and the floor, and the light that they were shown last.
pub struct Sight<'a> {
    world: &'a World,
    frames: HashMap<(SocketAddrV4, PortAddress), Vec<u8>>,
    segments: Vec<Vec<Flashes>>,
    panels: Vec<Flashes>,
    floor: Flashes,
    changes: usize,
}

impl<'a> Sight<'a> {
    pub fn new(world: &'a World) -> Self {
        let rows = &world.tables.panels;
        Self {
            frames: HashMap::new(),
            segments: rows
                .iter()
                .map(|row| vec![Flashes::default(); row.segments.len()])
                .collect(),
            panels: vec![Flashes::default(); rows.len()],
            floor: Flashes::default(),
            changes: 0,
            world,
        }
    }

    /// Sees everything that was sent after `since`.
    pub fn see_all(&mut self, since: Time) {
        let world = self.world;
        for sent in &world.sent {
            let key = (sent.to, sent.port_address);
            let same = self.frames.get(&key) == Some(&sent.slots);
            self.frames.insert(key, sent.slots.clone());
            if !same && sent.at >= since {
                self.changes += 1;
                self.look(sent);
            }
        }
    }

    /// The mean light of a segment: pulse-width levels are linear light.
    fn segment(&self, panel: usize, segment: usize) -> ([f64; 3], f64) {
        let world = self.world;
        let (mut light, mut pixels) = ([0.0; 3], 0.0);
        for pixel in world.tables.panels[panel].segment(segment) {
            pixels += 1.0;
            for place in world.tables.slots_of(pixel) {
                let output = &world.tables.outputs[place.output as usize];
                let node = &world.floor.nodes[output.node.unwrap() as usize];
                let frame = self.frames.get(&(node.address, output.port_address));
                let level = frame.map_or(0, |frame| frame[usize::from(place.slot)]);
                let part = output
                    .parts
                    .iter()
                    .find(|part| (part.dst..part.dst + part.len).contains(&place.slot));
                let part = part.unwrap();
                let slots = &world.tables.patterns[usize::from(part.pattern)].slots;
                let role = slots[usize::from(part.phase + place.slot - part.dst) % slots.len()];
                let level = f64::from(level) / 255.0;
                match role.colour {
                    Colour::Red => light[0] += level,
                    Colour::Green => light[1] += level,
                    Colour::Blue => light[2] += level,
                    Colour::White => light = light.map(|one| one + level),
                }
            }
        }
        (light, pixels)
    }

    fn look(&mut self, sent: &Sent) {
        let mean = |light: [f64; 3], pixels: f64| light.map(|one| one / pixels);
        let (mut all, mut all_pixels) = ([0.0; 3], 0.0);
        for panel in 0..self.panels.len() {
            let (mut own, mut own_pixels) = ([0.0; 3], 0.0);
            for segment in 0..self.segments[panel].len() {
                let (light, pixels) = self.segment(panel, segment);
                self.segments[panel][segment].see(sent.at, mean(light, pixels));
                own_pixels += pixels;
                for (sum, one) in own.iter_mut().zip(light) {
                    *sum += one;
                }
            }
            self.panels[panel].see(sent.at, mean(own, own_pixels));
            all_pixels += own_pixels;
            for (sum, one) in all.iter_mut().zip(own) {
                *sum += one;
            }
        }
        self.floor.see(sent.at, mean(all, all_pixels));
    }

    /// Most flashes in any second, of any segment, any panel and the floor.
    pub fn most(&self) -> [usize; 3] {
        let most = |all: &mut dyn Iterator<Item = &Flashes>| {
            all.map(Flashes::most_in_a_second).max().unwrap_or(0)
        };
        [
            most(&mut self.segments.iter().flatten()),
            most(&mut self.panels.iter()),
            self.floor.most_in_a_second(),
        ]
    }

    /// Frames that showed something new, and the large changes that segments showed.
    pub fn changes(&self) -> (usize, usize) {
        let segments = self.segments.iter().flatten();
        (self.changes, segments.map(Flashes::changes).sum())
    }
}
