//! What the floor really draws: from what the nodes hold, straight from the floor's model.
//!
//! This is the yardstick for the frame path, so it shares nothing with it: its own walk along
//! the runs, its own formula, floating point instead of exact integers.

use std::collections::HashMap;

use super::node::SimNode;
use super::walk::Walk;
use crate::floor::model::{Byte, Floor, Packing, PixelKind};
use crate::wire::PortAddress;

/// Where one slot lies: index of a universe in [`Truth::universes`], and 0 to 511 in it.
type Slot = (usize, usize);

/// One colour of one pixel.
#[derive(Debug, Clone)]
struct Light {
    panel: usize,
    full_a: f64,
    coarse: Slot,
    fine: Option<Slot>,
}

/// How a supply turns output amperes into mains amperes.
#[derive(Debug, Clone)]
struct Mains {
    circuit: usize,
    factor: f64,
}

/// The floor, as a meter sees it.
#[derive(Debug, Clone)]
pub struct Truth {
    universes: Vec<(Option<usize>, PortAddress)>,
    lights: Vec<Light>,
    idle_a: Vec<f64>,
    feed_of_panel: Vec<usize>,
    supply_of_feed: Vec<usize>,
    mains_of_supply: Vec<Mains>,
    circuits: usize,
}

/// True amperes, each list in the order of the floor's.
#[derive(Debug, Clone, PartialEq)]
pub struct Amperes {
    /// Output amperes of every panel.
    pub panels: Vec<f64>,
    /// Output amperes of every feed.
    pub feeds: Vec<f64>,
    /// Output amperes of every supply.
    pub supplies: Vec<f64>,
    /// Mains amperes of every circuit.
    pub circuits: Vec<f64>,
}

impl Truth {
    /// Walks along every run of `floor`.
    pub fn new(floor: &Floor) -> Self {
        let mut universes = Vec::new();
        let mut index = HashMap::new();
        let mut lights = Vec::new();
        for run in &floor.runs {
            let mut walk = Walk::from(run.start, run.slot);
            for &panel in &run.panels {
                let kind = &floor.panel_kinds[floor.panels[panel].kind];
                let pixel_kind = &floor.pixel_kinds[kind.pixel_kind];
                let per_pixel = pixel_kind.slots.len();
                let packed = run.packing == Packing::Packed;
                let lead = floor.panels[panel].lead;
                // Unused pixels have wires to the panel as well: whatever lights them is drawn.
                let unused = usize::from(lead.unused_pixels);
                walk.pass(usize::from(lead.spare_slots - lead.spare_behind));
                for pixel in 0..unused + kind.pixels_mm.len() {
                    if pixel == unused {
                        walk.pass(lead.spare_behind.into());
                        if run.packing == Packing::WholePanel {
                            walk.make_room(per_pixel * kind.pixels_mm.len());
                        }
                    }
                    let mut slots = Vec::new();
                    for (universe, slot) in walk.pixel(per_pixel, packed) {
                        let Some(address) = PortAddress::new(universe) else {
                            continue;
                        };
                        let at = *index.entry((run.node, address)).or_insert_with(|| {
                            universes.push((run.node, address));
                            universes.len() - 1
                        });
                        slots.push((at, slot));
                    }
                    lights.extend(lights_of(pixel_kind, &slots, panel));
                }
            }
        }
        Self {
            universes,
            lights,
            idle_a: floor
                .panels
                .iter()
                .map(|panel| {
                    let kind = &floor.panel_kinds[panel.kind];
                    let idle_a = f64::from(floor.pixel_kinds[kind.pixel_kind].idle_ua) / 1e6;
                    let unused_a = idle_a * f64::from(panel.lead.unused_pixels);
                    unused_a + kind.pixels_mm.iter().map(|_| idle_a).sum::<f64>()
                })
                .collect(),
            feed_of_panel: floor.panels.iter().map(|panel| panel.feed).collect(),
            supply_of_feed: floor.feeds.iter().map(|feed| feed.supply).collect(),
            mains_of_supply: floor
                .supplies
                .iter()
                .map(|supply| Mains {
                    circuit: supply.circuit,
                    factor: supply.volts.0
                        / (floor.circuits[supply.circuit].volts.0
                            * supply.power_factor
                            * supply.efficiency),
                })
                .collect(),
            circuits: floor.circuits.len(),
        }
    }

    /// What the floor draws with these nodes, in the order of the floor's.
    pub fn amperes(&self, nodes: &[SimNode]) -> Amperes {
        self.amperes_held(|node, address| nodes.get(node?)?.held(address))
    }

    /// What the floor draws when `held` says what each universe holds; one that holds nothing
    /// is dark.
    pub fn amperes_held<'a>(
        &self,
        held: impl Fn(Option<usize>, PortAddress) -> Option<&'a [u8; 512]>,
    ) -> Amperes {
        let frames: Vec<_> = self
            .universes
            .iter()
            .map(|&(node, address)| held(node, address))
            .collect();
        let value = |(universe, slot): Slot| {
            frames[universe].map_or(0.0, |frame: &[u8; 512]| f64::from(frame[slot]))
        };
        let mut panels = self.idle_a.clone();
        for light in &self.lights {
            let share = match light.fine {
                None => value(light.coarse) / 255.0,
                Some(fine) => (value(light.coarse) * 256.0 + value(fine)) / 65_535.0,
            };
            panels[light.panel] += light.full_a * share;
        }
        let mut feeds = vec![0.0; self.supply_of_feed.len()];
        for (amps, &feed) in panels.iter().zip(&self.feed_of_panel) {
            feeds[feed] += amps;
        }
        let mut supplies = vec![0.0; self.mains_of_supply.len()];
        for (amps, &supply) in feeds.iter().zip(&self.supply_of_feed) {
            supplies[supply] += amps;
        }
        let mut circuits = vec![0.0; self.circuits];
        for (amps, mains) in supplies.iter().zip(&self.mains_of_supply) {
            circuits[mains.circuit] += amps * mains.factor;
        }
        Amperes {
            panels,
            feeds,
            supplies,
            circuits,
        }
    }
}

/// The colours of one pixel whose slots lie at `slots`.
fn lights_of(kind: &PixelKind, slots: &[Slot], panel: usize) -> Vec<Light> {
    let roles = kind.slots.iter().zip(slots).enumerate();
    let lights = roles.filter_map(|(at, (role, &coarse))| {
        let fine = match role.byte {
            Byte::Whole => None,
            Byte::Coarse { partner } => {
                Some(*slots.get(at.checked_add_signed(isize::from(partner))?)?)
            }
            Byte::Fine { .. } => return None,
        };
        Some(Light {
            panel,
            full_a: f64::from(role.full_ua) / 1e6,
            coarse,
            fine,
        })
    });
    lights.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor::{Tables, testing};
    use crate::units::{Amps, Volts};

    fn near(a: f64, b: f64) -> bool {
        (a - b).abs() < 1e-9
    }

    fn measure(fill: impl Fn(u16) -> [u8; 512]) -> Amperes {
        let frames: Vec<_> = (0..8).map(fill).collect();
        Truth::new(&testing::floor())
            .amperes_held(|_, address| frames.get(usize::from(address.number())))
    }

    #[test]
    fn white_draws_what_the_hand_says() {
        // WS2811 datasheet: 18.5 mA an output; a square has 4 groups of 3 outputs.
        let white = measure(|_| [255; 512]);
        let square = 4.0 * (0.0026 + 3.0 * 0.0185);
        let pair = 2.0 * (0.001 + 4.0 * 0.020);
        for (amps, expected) in white.panels.iter().zip([square, square, pair]) {
            assert!(near(*amps, expected), "{amps} {expected}");
        }
        assert!(near(white.feeds[0], 2.0 * square) && near(white.feeds[1], pair));
        assert!(near(white.supplies[0], 2.0 * square + pair));
        // I = P / (V · power factor · efficiency).
        let mains = white.supplies[0] * 12.0 / (230.0 * 0.95 * 0.88);
        assert!(near(white.circuits[0], mains));
    }

    #[test]
    fn mains_amperes_are_those_of_the_worked_example() {
        // 2,400 W, efficiency 0.88, power factor 0.95: 12.482 A at 230 V, 23.923 A at 120 V.
        for (volts, expected) in [(230.0, 12.482), (120.0, 23.923)] {
            let mut floor = testing::floor();
            floor.circuits[0].volts = Volts(volts);
            floor.supplies[0].rated_a = Amps(200.0);
            let truth = Truth::new(&floor);
            let amps = 200.0 * truth.mains_of_supply[0].factor;
            assert!((amps - expected).abs() < 0.0005, "{amps}");
        }
    }

    #[test]
    fn current_is_linear_in_the_level() {
        // Pulse-width modulation: level 128 draws 128/255 of full.
        let half = measure(|_| [128; 512]);
        let square = 4.0 * (0.0026 + 3.0 * 0.0185 * 128.0 / 255.0);
        assert!(near(half.panels[0], square));
        // 16-bit: 128 in both halves is 32,896 of 65,535, the same share.
        assert!(near(
            half.panels[2],
            2.0 * (0.001 + 4.0 * 0.020 * 128.0 / 255.0)
        ));
    }

    #[test]
    fn a_straddling_pixel_is_read_from_both_universes() {
        // Slots 509 to 512 of 0:0:2 and 1 to 4 of 0:0:3 are the second pixel of A2.
        let only = |universe: u16, slot: usize, level: u8| {
            measure(|number| {
                let mut frame = [0; 512];
                if number == universe {
                    frame[slot - 1] = level;
                }
                frame
            })
            .panels[2]
                - 0.002
        };
        assert!(
            near(only(2, 509, 255), 0.020 * 255.0 * 256.0 / 65_535.0),
            "coarse red"
        );
        assert!(
            near(only(3, 4, 255), 0.020 * 255.0 / 65_535.0),
            "fine white"
        );
        assert!(near(only(3, 5, 255), 0.0) && near(only(2, 500, 255), 0.0));
    }

    #[test]
    fn light_on_unused_pixels_is_drawn() {
        let mut floor = testing::floor();
        floor.panels[0].lead.unused_pixels = 2;
        let frame = |lit: std::ops::Range<usize>| {
            let mut frame = [0; 512];
            frame[lit].fill(255);
            frame
        };
        let panel = |frame: [u8; 512]| {
            let truth = Truth::new(&floor);
            let held = |_, address: PortAddress| (address.number() == 1).then_some(&frame);
            truth.amperes_held(held).panels[0]
        };
        // WS2811 datasheet: 18.5 mA an output. Two pixels of 3 slots lie before the panel's four.
        let idle = 6.0 * 0.0026;
        assert!(near(panel(frame(0..0)), idle));
        assert!(near(panel(frame(0..6)), idle + 6.0 * 0.0185));
        assert!(near(panel(frame(0..18)), idle + 18.0 * 0.0185));
        assert!(near(panel(frame(18..512)), idle));
    }

    #[test]
    fn dark_floors_draw_idle() {
        let dark = Truth::new(&testing::floor()).amperes(&[]);
        assert!(near(dark.supplies[0], 8.0 * 0.0026 + 2.0 * 0.001));
    }

    #[test]
    fn the_walk_finds_every_panel_where_the_patch_has_it() {
        // Two ways to the same place: the walk here, and the tables of the frame path.
        for floor in [testing::floor(), testing::demo()] {
            let tables = Tables::compile(&floor);
            let truth = Truth::new(&floor);
            for lit in 0..floor.panels.len() {
                let mut frames = HashMap::new();
                for output in &tables.outputs {
                    let mut frame = [0; 512];
                    for part in output
                        .parts
                        .iter()
                        .filter(|part| part.panel as usize == lit)
                    {
                        frame[usize::from(part.dst)..][..usize::from(part.len)].fill(255);
                    }
                    let node = output.node.map(|node| node as usize);
                    frames.insert((node, output.port_address), frame);
                }
                let amperes = truth.amperes_held(|node, address| frames.get(&(node, address)));
                for (panel, (amps, row)) in amperes.panels.iter().zip(&tables.panels).enumerate() {
                    let expected = if panel == lit {
                        row.idle + row.full
                    } else {
                        row.idle
                    };
                    assert!(near(*amps, expected.amps().0), "{lit} {panel}: {amps}");
                }
            }
        }
    }
}
