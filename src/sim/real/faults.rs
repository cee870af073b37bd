//! What may be broken on a real floor, and what that does to wires and pixels.

use super::{Data, PanelParts, Real};
use crate::floor::model::Colour;

/// A segment of a panel, or the joint before it, in wiring order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Spot {
    /// Index into the floor's panels.
    pub panel: usize,
    /// From 0. The joint before the first is where the panel's wires come in; the joint behind the
    /// last has the number of segments, where strip is fed from its end as well.
    pub segment: usize,
}

/// What is wrong at a [`Spot`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    /// A supply joint is open.
    SupplyOpen,
    /// A supply joint has so many ohms more, both rails together.
    SupplyResistive(f64),
    /// What brings power to the panel, from the panel before it or from the fuse, is open.
    LinkOpen,
    /// A data joint is open: everything behind it in the run is dark, or holds its last picture
    /// as long as it has power.
    DataOpen {
        /// Whether the drivers hold what they were told last.
        holds: bool,
    },
    /// The wire of one colour is open: it gets to a segment only from another end of the strip.
    ColourOpen(Colour),
    /// The segment itself: this share of its LEDs is whole.
    Weak(f64),
    /// The segment itself: all its colours are at this share of full, whatever is sent.
    Stuck(f64),
}

impl Real {
    /// Whether the floor has such a place, and can have this wrong there.
    pub fn has(&self, spot: Spot, fault: Fault) -> bool {
        let Some(panel) = self.panels.get(spot.panel) else {
            return false;
        };
        let segments = panel.segments.len() - 1;
        match fault {
            Fault::SupplyOpen | Fault::SupplyResistive(_) => {
                panel.supply.get(spot.segment).is_some_and(Option::is_some)
            }
            Fault::LinkOpen => spot.segment == 0,
            Fault::ColourOpen(colour) => {
                let lights = self.pixels.get(panel.segments[0]);
                let colours = lights.into_iter().flat_map(|pixel| &pixel.lights);
                spot.segment < segments && colours.map(|light| light.colour).any(|it| it == colour)
            }
            Fault::DataOpen { .. } | Fault::Weak(_) | Fault::Stuck(_) => spot.segment < segments,
        }
    }

    /// From now on just this is wrong; what the floor can't have is passed over. Pixels that were killed
    /// stay dead.
    pub fn afflict(&mut self, faults: &[(Spot, Fault)]) {
        self.mend();
        for &(spot, fault) in faults {
            if self.has(spot, fault) {
                self.break_one(spot, fault);
            }
        }
        for (at, part) in self.panels.iter().enumerate() {
            let here: Vec<(usize, Colour)> = (faults.iter())
                .filter_map(|(spot, fault)| match fault {
                    Fault::ColourOpen(colour) if spot.panel == at => Some((spot.segment, *colour)),
                    _ => None,
                })
                .collect();
            for colour in Colour::ALL {
                let open = here.iter().filter(|(_, of)| *of == colour);
                let open: Vec<usize> = open.map(|(segment, _)| *segment).collect();
                if open.is_empty() {
                    continue;
                }
                for segment in unreached(part, &open) {
                    for pixel in
                        &mut self.pixels[part.segments[segment]..part.segments[segment + 1]]
                    {
                        let lights = pixel.lights.iter_mut();
                        lights
                            .filter(|light| light.colour == colour)
                            .for_each(|light| light.out = true);
                    }
                }
            }
        }
    }

    fn mend(&mut self) {
        for panel in &self.panels {
            let joints = panel.supply.iter().flatten();
            for &(joint, ohm) in joints.chain([&panel.link]) {
                self.wires.set(joint, Some(ohm));
            }
        }
        for pixel in &mut self.pixels {
            (pixel.whole, pixel.stuck, pixel.data) = (1.0, None, Data::Arrives);
            pixel.lights.iter_mut().for_each(|light| light.out = false);
        }
    }

    fn break_one(&mut self, spot: Spot, fault: Fault) {
        let panel = &self.panels[spot.panel];
        match fault {
            Fault::SupplyOpen => {
                if let Some((joint, _)) = panel.supply[spot.segment] {
                    self.wires.set(joint, None);
                }
            }
            Fault::SupplyResistive(more) => {
                if let Some((joint, ohm)) = panel.supply[spot.segment] {
                    self.wires.set(joint, Some(ohm.max(1e-3) + more));
                }
            }
            Fault::LinkOpen => self.wires.set(panel.link.0, None),
            Fault::DataOpen { holds } => {
                for pixel in &mut self.pixels[panel.segments[spot.segment]..panel.run_ends] {
                    // Behind one that is dark nothing can be held.
                    if holds && pixel.data == Data::Arrives {
                        pixel.data = Data::Holds;
                    } else if !holds {
                        pixel.data = Data::Dark;
                    }
                }
            }
            // Which segments a colour still reaches depends on all its open joints together.
            Fault::ColourOpen(_) => {}
            Fault::Weak(whole) => self.of_segment(spot, |pixel| pixel.whole = whole),
            Fault::Stuck(at) => self.of_segment(spot, |pixel| pixel.stuck = Some(at)),
        }
    }

    fn of_segment(&mut self, spot: Spot, change: impl Fn(&mut super::Pixel)) {
        let segments = &self.panels[spot.panel].segments;
        let (from, to) = (segments[spot.segment], segments[spot.segment + 1]);
        self.pixels[from..to].iter_mut().for_each(change);
    }
}

/// Segments that a wire along the strip does not reach when it is open before some of them.
fn unreached(panel: &PanelParts, open: &[usize]) -> Vec<usize> {
    let segments = panel.segments.len() - 1;
    let mut reached = vec![false; segments];
    for &fed in &panel.fed_at {
        // The wire into the first segment may be what is open.
        if fed == 0 && open.contains(&0) {
            continue;
        }
        // On to the next open joint in front and behind.
        let opens_after = open.iter().filter(|&&at| at > fed).min();
        let from = open.iter().filter(|&&at| at <= fed).max();
        let to = opens_after.copied().unwrap_or(segments);
        reached[from.copied().unwrap_or(0)..to].fill(true);
    }
    (0..segments).filter(|&segment| !reached[segment]).collect()
}
