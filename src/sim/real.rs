//! What a floor really draws: pixels that differ, some of them dead, at the voltage that their
//! copper leaves them.
//!
//! A witness for the metering: its own walk, its own laws, its own copper ([`Wires`]); of the floor
//! it takes only what the file says.

use std::collections::HashMap;

use super::link::Chance;
use super::node::SimNode;
use super::truth::Amperes;
use super::walk::Walk;
use super::wires::Wires;
use crate::floor::model::{Byte, Cable, Conductor, Fed, Floor, Load, Packing, PixelKind};
use crate::wire::PortAddress;

/// Ohm·mm² of a metre of copper at 20 °C (IEC 60028: 1/58), and what a degree adds.
const COPPER: f64 = 1.0 / 58.0;
const PER_DEGREE: f64 = 0.00393;

/// One colour of one pixel.
#[derive(Debug, Clone)]
struct Light {
    full_a: f64,
    coarse: (usize, usize),
    fine: Option<(usize, usize)>,
}

/// One pixel.
#[derive(Debug, Clone)]
struct Pixel {
    point: usize,
    volts: f64,
    idle_a: f64,
    load: Load,
    lights: Vec<Light>,
    dead: bool,
    feed: usize,
}

impl Pixel {
    /// What it draws at `volts` with so many amperes of light.
    fn draws(&self, volts: f64, light_a: f64) -> f64 {
        let share = match self.load {
            Load::ConstantCurrent {
                dark_volts,
                full_volts,
            } if volts < full_volts => (volts - dark_volts).max(0.0) / (full_volts - dark_volts),
            Load::ConstantCurrent { .. } => 1.0,
            Load::Resistive { dark_volts } => {
                (volts - dark_volts).max(0.0) / (self.volts - dark_volts)
            }
        };
        self.idle_a * (volts / self.volts).max(0.0) + light_a * share
    }
}

/// How far pixels are from what the file says of them.
#[derive(Debug, Clone, Copy)]
pub struct Scatter {
    /// All pixels of a supply together, as a share: they are of one reel.
    pub reel: f64,
    /// Each on its own on top of that.
    pub own: f64,
}

/// A floor as it really is.
#[derive(Debug)]
pub struct Real {
    universes: Vec<(Option<usize>, PortAddress)>,
    pixels: Vec<Pixel>,
    /// The pixels at each point of the wires.
    at_point: Vec<Vec<usize>>,
    wires: Wires,
    supply_of_feed: Vec<usize>,
    /// Of each supply: its circuit and the mains amperes for one of output.
    mains: Vec<(usize, f64)>,
    circuits: usize,
}

/// Ohms of a cable, out and back, at `celsius`.
fn ohm(cable: &Cable, celsius: f64) -> f64 {
    let mm2 = match cable.conductor {
        Conductor::Mm2(mm2) => mm2,
        // ASTM B258: 0.127 mm × 92^((36 − n)/39) across.
        Conductor::Awg(gauge) => {
            let across = 0.127 * 92_f64.powf((36.0 - f64::from(gauge)) / 39.0);
            std::f64::consts::PI / 4.0 * across * across
        }
    };
    2.0 * cable.length_m * COPPER / mm2 * (1.0 + PER_DEGREE * (celsius - 20.0))
}

impl Real {
    /// Builds `floor`; the supply `s` has pixels that scatter by `scatter(s)`.
    pub fn new(floor: &Floor, chance: &mut Chance, scatter: impl Fn(usize) -> Scatter) -> Self {
        let mut real = Self {
            universes: Vec::new(),
            pixels: Vec::new(),
            at_point: Vec::new(),
            wires: Wires::default(),
            supply_of_feed: floor.feeds.iter().map(|feed| feed.supply).collect(),
            mains: (floor.supplies.iter())
                .map(|supply| {
                    let circuit = floor.circuits[supply.circuit].volts.0;
                    let into = circuit * supply.efficiency * supply.power_factor;
                    (supply.circuit, supply.volts.0 / into)
                })
                .collect(),
            circuits: floor.circuits.len(),
        };
        let panels = real.lay_cables(floor);
        real.solder(floor, &panels, chance, scatter);
        real.at_point = vec![Vec::new(); real.wires.len()];
        for (at, pixel) in real.pixels.iter().enumerate() {
            real.at_point[pixel.point].push(at);
        }
        real
    }

    /// From every fuse to the end of every panel's tail; gives those ends.
    fn lay_cables(&mut self, floor: &Floor) -> Vec<usize> {
        let celsius = floor.plan.copper_c;
        let of = |cable: Option<&Cable>| cable.map_or(0.0, |cable| ohm(cable, celsius));
        let mut ends = vec![0; floor.panels.len()];
        let supplies = floor.supplies.iter();
        let sources: Vec<usize> = supplies.map(|s| self.wires.source(s.volts.0)).collect();
        for feed in &floor.feeds {
            let (source, volts) = (sources[feed.supply], floor.supplies[feed.supply].volts.0);
            let first = self.wires.point(volts);
            self.wires.join(source, first, of(feed.cable.as_ref()));
            let mut at = first;
            for (number, &panel) in feed.panels.iter().enumerate() {
                if let (Some(link), true) = (&feed.link, number > 0) {
                    let next = self.wires.point(volts);
                    self.wires.join(at, next, ohm(link, celsius));
                    at = next;
                }
                let kind = &floor.panel_kinds[floor.panels[panel].kind];
                ends[panel] = self.wires.point(volts);
                self.wires.join(at, ends[panel], of(kind.tail.as_ref()));
            }
            if let (Some(far), true) = (&feed.far_cable, at != first) {
                self.wires.join(source, at, ohm(far, celsius));
            }
        }
        ends
    }

    /// The strips and their pixels.
    fn solder(
        &mut self,
        floor: &Floor,
        ends: &[usize],
        chance: &mut Chance,
        scatter: impl Fn(usize) -> Scatter,
    ) {
        let mut index = HashMap::new();
        for run in &floor.runs {
            let mut walk = Walk::from(run.start, run.slot);
            for &panel in &run.panels {
                let kind = &floor.panel_kinds[floor.panels[panel].kind];
                let pixel_kind = &floor.pixel_kinds[kind.pixel_kind];
                if run.packing == Packing::WholePanel {
                    walk.make_room(pixel_kind.slots.len() * kind.pixels_mm.len());
                }
                let scatter = scatter(floor.feeds[floor.panels[panel].feed].supply);
                let strip = kind.strip.is_some();
                let mut points = Vec::new();
                let feed = floor.panels[panel].feed;
                for _ in &kind.pixels_mm {
                    let packed = run.packing == Packing::Packed;
                    let places = walk.pixel(pixel_kind.slots.len(), packed);
                    let slots = places.into_iter().filter_map(|(universe, slot)| {
                        let address = PortAddress::new(universe)?;
                        let universes = &mut self.universes;
                        let at = *index.entry((run.node, address)).or_insert_with(|| {
                            universes.push((run.node, address));
                            universes.len() - 1
                        });
                        Some((at, slot))
                    });
                    let slots: Vec<_> = slots.collect();
                    let own = scatter.own * (2.0 * chance.share() - 1.0);
                    let point = if strip {
                        self.wires.point(pixel_kind.volts.0)
                    } else {
                        ends[panel]
                    };
                    self.pixels.push(Pixel {
                        point,
                        volts: pixel_kind.volts.0,
                        idle_a: f64::from(pixel_kind.idle_ua) / 1e6,
                        load: pixel_kind.load,
                        lights: lights(pixel_kind, &slots, 1.0 + scatter.reel + own),
                        dead: false,
                        feed,
                    });
                    points.push(point);
                }
                self.feed_strip(floor, panel, ends[panel], &points);
            }
        }
    }

    /// Rails from pixel to pixel, and the wires that feed them.
    fn feed_strip(&mut self, floor: &Floor, panel: usize, end: usize, points: &[usize]) {
        let kind = &floor.panel_kinds[floor.panels[panel].kind];
        let Some(strip) = &kind.strip else { return };
        let heat = 1.0 + PER_DEGREE * (floor.plan.copper_c - 20.0);
        let piece = 2.0 * strip.ohm_per_m * heat * strip.pitch_mm.unwrap_or(50.0) / 1e3;
        for pair in points.windows(2) {
            self.wires.join(pair[0], pair[1], piece);
        }
        let last = points.len() - 1;
        let fed: Vec<(usize, f64)> = match &strip.fed {
            Fed::Start => vec![(0, piece)],
            Fed::End => vec![(last, piece)],
            Fed::Both => vec![(0, piece), (last, piece)],
            Fed::Pixels(pixels) => pixels.iter().map(|&at| (at as usize, 0.0)).collect(),
        };
        for (at, ohm) in fed {
            self.wires.join(end, points[at], ohm);
        }
    }

    /// Number of pixels.
    pub fn pixels(&self) -> usize {
        self.pixels.len()
    }

    /// The light of a pixel is gone from now on.
    pub fn kill(&mut self, pixel: usize) {
        self.pixels[pixel].dead = true;
    }

    /// What flows now, in the order of the floor's; panels are left out.
    pub fn amperes(&mut self, nodes: &[SimNode]) -> Amperes {
        let held =
            |&(node, address): &(Option<usize>, PortAddress)| nodes.get(node?)?.held(address);
        let frames: Vec<_> = self.universes.iter().map(held).collect();
        let level = |(universe, slot): (usize, usize)| {
            frames[universe].map_or(0.0, |frame: &[u8; 512]| f64::from(frame[slot]))
        };
        let light_a: Vec<f64> = (self.pixels.iter())
            .map(|pixel| {
                let lit = pixel.lights.iter().map(|light| match light.fine {
                    None => light.full_a * level(light.coarse) / 255.0,
                    Some(fine) => {
                        light.full_a * (level(light.coarse) * 256.0 + level(fine)) / 65_535.0
                    }
                });
                if pixel.dead { 0.0 } else { lit.sum() }
            })
            .collect();
        let (pixels, at_point) = (&self.pixels, &self.at_point);
        self.wires.settle(|point, volts| {
            let there = at_point[point].iter();
            there.map(|&at| pixels[at].draws(volts, light_a[at])).sum()
        });
        let mut feeds = vec![0.0; self.supply_of_feed.len()];
        for (pixel, &light_a) in self.pixels.iter().zip(&light_a) {
            feeds[pixel.feed] += pixel.draws(self.wires.volts(pixel.point), light_a);
        }
        let mut supplies = vec![0.0; self.mains.len()];
        for (a, &supply) in feeds.iter().zip(&self.supply_of_feed) {
            supplies[supply] += a;
        }
        let mut circuits = vec![0.0; self.circuits];
        for (a, (circuit, mains)) in supplies.iter().zip(&self.mains) {
            circuits[*circuit] += a * mains;
        }
        Amperes {
            panels: Vec::new(),
            feeds,
            supplies,
            circuits,
        }
    }
}

/// The colours of one pixel, each `factor` times what the file says.
fn lights(kind: &PixelKind, slots: &[(usize, usize)], factor: f64) -> Vec<Light> {
    let roles = kind.slots.iter().zip(slots).enumerate();
    let light =
        |(at, (role, &coarse)): (usize, (&crate::floor::model::SlotRole, &(usize, usize)))| {
            let fine = match role.byte {
                Byte::Whole => None,
                Byte::Coarse { partner } => {
                    Some(*slots.get(at.checked_add_signed(isize::from(partner))?)?)
                }
                Byte::Fine { .. } => return None,
            };
            Some(Light {
                full_a: f64::from(role.full_ua) / 1e6 * factor,
                coarse,
                fine,
            })
        };
    roles.filter_map(light).collect()
}
