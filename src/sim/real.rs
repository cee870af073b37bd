//! What a floor really draws and shows: pixels that differ, some of them dead, at the voltage that
//! their copper leaves them, behind joints that may be open ([`faults`]).
//!
//! A witness for the metering and for what looks for faults: its own walk, its own laws, its own
//! copper ([`Wires`]); of the floor it takes only what the file says.

use super::link::Chance;
use super::node::SimNode;
use super::truth::Amperes;
use super::wires::{Joint, Wires};
use crate::floor::model::{Colour, Floor, Load};
use crate::wire::PortAddress;

pub mod faults;
mod lay;
#[cfg(test)]
mod tests;

/// Below this a pixel's driver forgets what it was told, in volts; from memory of datasheets.
const FORGETS_V: f64 = 3.0;

/// One colour of one pixel.
#[derive(Debug, Clone)]
struct Light {
    colour: Colour,
    full_a: f64,
    coarse: (usize, usize),
    fine: Option<(usize, usize)>,
    /// Its wire is open.
    out: bool,
    /// What its driver was told last, as a share of full.
    told: f64,
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
    /// The share of its LEDs that are whole.
    whole: f64,
    /// What it is stuck at, as a share of full.
    stuck: Option<f64>,
    data: Data,
    panel: usize,
}

/// What a pixel gets of what its node sends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Data {
    Arrives,
    /// The wire is open, and the driver goes on with what it was told last.
    Holds,
    /// The wire is open, and the driver is dark.
    Dark,
}

impl Pixel {
    /// The share of the asked light that `volts` leave.
    fn share(&self, volts: f64) -> f64 {
        match self.load {
            Load::ConstantCurrent {
                dark_volts,
                full_volts,
            } if volts < full_volts => (volts - dark_volts).max(0.0) / (full_volts - dark_volts),
            Load::ConstantCurrent { .. } => 1.0,
            Load::Resistive { dark_volts } => {
                (volts - dark_volts).max(0.0) / (self.volts - dark_volts)
            }
        }
    }

    /// What it draws at `volts` with so many amperes of light.
    fn draws(&self, volts: f64, light_a: f64) -> f64 {
        self.idle_a * (volts / self.volts).max(0.0) + light_a * self.share(volts)
    }

    /// The share of full that a colour really is asked for.
    fn asked(&self, light: &Light) -> f64 {
        if self.dead || light.out {
            return 0.0;
        }
        self.stuck.unwrap_or(light.told) * self.whole
    }

    /// Amperes of light at a sound voltage.
    fn light_a(&self) -> f64 {
        let lights = self.lights.iter();
        lights.map(|light| light.full_a * self.asked(light)).sum()
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

/// Where a panel's pixels lie among all, and the wires that lead to them.
#[derive(Debug, Clone)]
struct PanelParts {
    feed: usize,
    /// First pixel of each segment, and behind the last one.
    segments: Vec<usize>,
    /// Behind the last pixel of its run.
    run_ends: usize,
    /// Supply joints before each segment and behind the last, where there are any, with their ohms.
    supply: Vec<Option<(Joint, f64)>>,
    /// Power enters here: at these segments, in their order.
    fed_at: Vec<usize>,
    /// Brings power to the panel, from the panel before or from the fuse.
    link: (Joint, f64),
}

/// A floor as it really is.
#[derive(Debug)]
pub struct Real {
    universes: Vec<(Option<usize>, PortAddress)>,
    /// In the order in which data runs, run by run.
    pixels: Vec<Pixel>,
    /// The pixels at each point of the wires.
    at_point: Vec<Vec<usize>>,
    wires: Wires,
    panels: Vec<PanelParts>,
    supply_of_feed: Vec<usize>,
    /// Of each supply: its circuit and the mains amperes for one of output.
    mains: Vec<(usize, f64)>,
    circuits: usize,
}

/// What really shines of one segment: each colour that it has, as a share of its full light.
pub type Shine = Vec<(Colour, f64)>;

impl Real {
    /// Builds `floor`; the supply `s` has pixels that scatter by `scatter(s)`.
    pub fn new(floor: &Floor, chance: &mut Chance, scatter: impl Fn(usize) -> Scatter) -> Self {
        lay::lay(floor, chance, scatter)
    }

    /// Number of pixels.
    pub const fn pixels(&self) -> usize {
        self.pixels.len()
    }

    /// The light of a pixel is gone from now on.
    pub fn kill(&mut self, pixel: usize) {
        self.pixels[pixel].dead = true;
    }

    /// What flows now, in the order of the floor's.
    pub fn amperes(&mut self, nodes: &[SimNode]) -> Amperes {
        self.amperes_held(|node, address| nodes.get(node?)?.held(address))
    }

    /// What flows now when `held` says what each universe holds; one that holds nothing is dark.
    pub fn amperes_held<'a>(
        &mut self,
        held: impl Fn(Option<usize>, PortAddress) -> Option<&'a [u8; 512]>,
    ) -> Amperes {
        self.tell(held);
        let (pixels, at_point) = (&self.pixels, &self.at_point);
        let light_a: Vec<f64> = pixels.iter().map(Pixel::light_a).collect();
        self.wires.settle(|point, volts| {
            let there = at_point[point].iter();
            there.map(|&at| pixels[at].draws(volts, light_a[at])).sum()
        });
        let mut panels = vec![0.0; self.panels.len()];
        for (pixel, &light_a) in self.pixels.iter().zip(&light_a) {
            panels[pixel.panel] += pixel.draws(self.wires.volts(pixel.point), light_a);
        }
        self.forget();
        let mut feeds = vec![0.0; self.supply_of_feed.len()];
        for (a, of) in panels.iter().zip(&self.panels) {
            feeds[of.feed] += a;
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
            panels,
            feeds,
            supplies,
            circuits,
        }
    }

    /// Which segments really shine, and how much: for each panel of the floor, each of its segments.
    /// It is the light of the last [`Real::amperes`]; an unlit or dead segment has shares of 0.
    pub fn shining(&self) -> Vec<Vec<Shine>> {
        let of_panel = |panel: &PanelParts| {
            let ends = panel.segments.windows(2);
            ends.map(|ends| self.shine(&self.pixels[ends[0]..ends[1]]))
                .collect()
        };
        self.panels.iter().map(of_panel).collect()
    }

    fn shine(&self, pixels: &[Pixel]) -> Shine {
        let mut sums: Vec<(Colour, f64, f64)> = Vec::new();
        for pixel in pixels {
            let share = pixel.share(self.wires.volts(pixel.point));
            for light in &pixel.lights {
                let at = sums.iter().position(|(colour, ..)| *colour == light.colour);
                let at = at.unwrap_or_else(|| {
                    sums.push((light.colour, 0.0, 0.0));
                    sums.len() - 1
                });
                sums[at].1 += light.full_a * pixel.asked(light) * share;
                sums[at].2 += light.full_a;
            }
        }
        let share = |(colour, lit, full): (Colour, f64, f64)| (colour, lit / full.max(1e-12));
        sums.into_iter().map(share).collect()
    }

    /// What nodes send reaches the pixels, as far as the wire goes.
    fn tell<'a>(&mut self, held: impl Fn(Option<usize>, PortAddress) -> Option<&'a [u8; 512]>) {
        let universes = self.universes.iter();
        let frames: Vec<_> = universes.map(|&(node, at)| held(node, at)).collect();
        let level = |(universe, slot): (usize, usize)| {
            frames[universe].map_or(0.0, |frame: &[u8; 512]| f64::from(frame[slot]))
        };
        for pixel in &mut self.pixels {
            for light in &mut pixel.lights {
                light.told = match (pixel.data, light.fine) {
                    (Data::Holds, _) => light.told,
                    (Data::Dark, _) => 0.0,
                    (Data::Arrives, None) => level(light.coarse) / 255.0,
                    (Data::Arrives, Some(fine)) => {
                        (level(light.coarse) * 256.0 + level(fine)) / 65_535.0
                    }
                };
            }
        }
    }

    /// Drivers without power have forgotten what they were told.
    fn forget(&mut self) {
        for pixel in &mut self.pixels {
            if self.wires.volts(pixel.point) < FORGETS_V {
                for light in &mut pixel.lights {
                    light.told = 0.0;
                }
            }
        }
    }
}
