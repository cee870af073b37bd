//! An installer who wires a floor otherwise than planned, and someone truthful who looks at it.
//!
//! This is the yardstick for the stepping mode, so it shares nothing with it, nor with the
//! patch: it follows the true wires slot by slot with the simulation's own hand ([`super::walk`]),
//! and turns panels by rules of its own.

mod random;

use std::collections::{BTreeMap, HashMap, HashSet};

use super::walk::Walk;
use crate::floor::model::{Byte, Colour, Floor, Lead, Packing, Position};

/// A mistake that was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Blunder {
    /// What should lie at the one position lies at the other.
    Swapped(Position, Position),
    /// A panel is turned by so many degrees more than planned.
    Turned(Position, u16),
    /// A panel is the mirror image of the plan.
    Mirrored(Position),
    /// A run is wired from its other end.
    Reversed(usize),
    /// A run begins so many slots later.
    Shifted(usize, i16),
    /// A kind of pixel has its colours in another order.
    KindColours(usize, String),
    /// The pixels of one panel have.
    PanelColours(Position, String),
    /// A panel has no light.
    Dark(Position),
}

impl Blunder {
    /// Whether both are about the same panel, run or kind.
    fn touches(&self, other: &Self) -> bool {
        let about = |blunder: &Self| match blunder {
            Self::Swapped(a, b) => (vec![*a, *b], None),
            Self::Turned(at, _)
            | Self::Mirrored(at)
            | Self::PanelColours(at, _)
            | Self::Dark(at) => (vec![*at], None),
            Self::Reversed(which) | Self::Shifted(which, _) | Self::KindColours(which, _) => {
                (Vec::new(), Some(*which))
            }
        };
        let ((panels, which), (others, other)) = (about(self), about(other));
        panels.iter().any(|panel| others.contains(panel)) || (which.is_some() && which == other)
    }
}

/// A thing that hangs on the wire.
#[derive(Debug, Clone)]
struct Thing {
    /// The position where it lies.
    at: Position,
    /// Its kind of panel.
    kind: usize,
    turn_deg: u16,
    mirrored: bool,
    /// The letters of its slots, `GRB`.
    letters: String,
    dark: bool,
    serial: String,
}

/// A floor as it was wired.
#[derive(Debug, Clone)]
pub struct Installed {
    plan: Floor,
    /// Things along each run, and the run's first slot.
    runs: Vec<(u16, Vec<Thing>)>,
    /// What was done otherwise than planned.
    pub blunders: Vec<Blunder>,
}

/// A pixel that lights: where its panel lies, where it is on the floor in mm, and its levels of
/// red, green, blue and white, 0 to 65,535.
pub type Lights = Vec<(Position, [f64; 2], [u32; 4])>;

/// The slots that are sent: node, number of the Port-Address, slot from 0.
pub type Slots = HashMap<(Option<usize>, u16, u16), u8>;

impl Installed {
    /// Wires a floor as planned.
    pub fn by_plan(plan: &Floor) -> Self {
        let thing = |&panel: &usize| {
            let of = &plan.panels[panel];
            let kind = &plan.panel_kinds[of.kind];
            Thing {
                at: of.position,
                kind: of.kind,
                turn_deg: of.turn_deg,
                mirrored: of.mirrored,
                letters: letters(plan, kind.pixel_kind),
                dark: false,
                serial: of.serial.clone(),
            }
        };
        let run = |run: &crate::floor::model::Run| {
            let things = run.panels.iter().map(thing).collect();
            (run.slot, things)
        };
        Self {
            runs: plan.runs.iter().map(run).collect(),
            plan: plan.clone(),
            blunders: Vec::new(),
        }
    }

    /// Makes one more mistake, if it can be made on this floor.
    pub fn blunder(&mut self, blunder: Blunder) -> bool {
        let done = self.wire(&blunder);
        if done {
            self.blunders.push(blunder);
        }
        done
    }

    fn thing(&mut self, at: Position) -> Option<&mut Thing> {
        let mut things = self.runs.iter_mut().flat_map(|(_, things)| things);
        things.find(|thing| thing.at == at)
    }

    fn wire(&mut self, blunder: &Blunder) -> bool {
        match blunder {
            Blunder::Swapped(a, b) => {
                let (Some(one), Some(other)) = (
                    self.thing(*a).map(|thing| (thing.turn_deg, thing.mirrored)),
                    self.thing(*b).map(|thing| (thing.turn_deg, thing.mirrored)),
                ) else {
                    return false;
                };
                for (_, things) in &mut self.runs {
                    for thing in things {
                        if thing.at == *a {
                            (thing.at, (thing.turn_deg, thing.mirrored)) = (*b, other);
                        } else if thing.at == *b {
                            (thing.at, (thing.turn_deg, thing.mirrored)) = (*a, one);
                        }
                    }
                }
                a != b
            }
            Blunder::Turned(at, more) => self.thing(*at).is_some_and(|thing| {
                thing.turn_deg = (thing.turn_deg + more) % 360;
                true
            }),
            Blunder::Mirrored(at) => self.thing(*at).is_some_and(|thing| {
                thing.mirrored = !thing.mirrored;
                true
            }),
            Blunder::Reversed(run) => {
                self.runs[*run].1.reverse();
                true
            }
            Blunder::Shifted(run, by) => {
                let slot = &mut self.runs[*run].0;
                let moved = slot.checked_add_signed(*by);
                let moved = moved.filter(|slot| (1..=512).contains(slot));
                moved.is_some_and(|moved| {
                    *slot = moved;
                    true
                })
            }
            Blunder::KindColours(kind, order) => {
                let plan = &self.plan;
                let things = self.runs.iter_mut().flat_map(|(_, things)| things);
                for thing in things {
                    if plan.panel_kinds[thing.kind].pixel_kind == *kind {
                        thing.letters.clone_from(order);
                    }
                }
                true
            }
            Blunder::PanelColours(at, order) => self.thing(*at).is_some_and(|thing| {
                thing.letters.clone_from(order);
                true
            }),
            Blunder::Dark(at) => self.thing(*at).is_some_and(|thing| {
                thing.dark = true;
                true
            }),
        }
    }

    fn is_dark(&self, at: Position) -> bool {
        let mut things = self.runs.iter().flat_map(|(_, things)| things);
        things.any(|thing| thing.at == at && thing.dark)
    }

    fn pixels(&self, at: Position) -> usize {
        let mut things = self.runs.iter().flat_map(|(_, things)| things);
        let found = things.find(|thing| thing.at == at);
        found.map_or(0, |thing| self.plan.panel_kinds[thing.kind].pixels_mm.len())
    }

    /// Whether no two runs share a slot: the file could not say so.
    fn is_apart(&self) -> bool {
        let mut taken = HashSet::new();
        let mut apart = true;
        self.follow(|place, _, _, _| apart &= taken.insert(place));
        apart
    }

    /// Panels without light, by where they lie.
    pub fn dark(&self) -> Vec<Position> {
        let things = self.runs.iter().flat_map(|(_, things)| things);
        let dark = things.filter(|thing| thing.dark).map(|thing| thing.at);
        dark.collect()
    }

    /// The serial of what lies in each position.
    pub fn serials(&self) -> BTreeMap<Position, String> {
        let things = self.runs.iter().flat_map(|(_, things)| things);
        things
            .map(|thing| (thing.at, thing.serial.clone()))
            .collect()
    }

    /// Every slot in wiring order: where it is, what hangs on it, which pixel, which letter.
    fn follow(&self, mut each: impl FnMut((Option<usize>, u16, u16), &Thing, usize, char)) {
        for (run, (slot, things)) in self.plan.runs.iter().zip(&self.runs) {
            let mut hand = Walk::from(run.start, *slot);
            let packed = run.packing == Packing::Packed;
            let leads: Vec<Lead> = run
                .panels
                .iter()
                .map(|&panel| self.plan.panels[panel].lead)
                .collect();
            for (thing, lead) in things.iter().zip(leads) {
                let kind = &self.plan.panel_kinds[thing.kind];
                let per_pixel = thing.letters.len();
                hand.pass(usize::from(lead.spare_slots - lead.spare_behind));
                for _ in 0..lead.unused_pixels {
                    hand.pixel(per_pixel, packed);
                }
                hand.pass(lead.spare_behind.into());
                if run.packing == Packing::WholePanel {
                    hand.make_room(per_pixel * kind.pixels_mm.len());
                }
                for pixel in 0..kind.pixels_mm.len() {
                    let places = hand.pixel(per_pixel, packed);
                    for ((universe, slot), letter) in places.into_iter().zip(thing.letters.chars())
                    {
                        let slot = u16::try_from(slot).unwrap_or(u16::MAX);
                        each((run.node, universe, slot), thing, pixel, letter);
                    }
                }
            }
        }
    }

    /// What lights when these slots are sent; dark pixels are left out.
    pub fn lights(&self, slots: &Slots) -> Lights {
        let mut found: Lights = Vec::new();
        let mut last = None;
        self.follow(|place, thing, pixel, letter| {
            let level = u32::from(slots.get(&place).copied().unwrap_or_default());
            if level == 0 || thing.dark {
                return;
            }
            if last != Some((thing.at, pixel)) {
                found.push((thing.at, self.place(thing, pixel), [0; 4]));
                last = Some((thing.at, pixel));
            }
            let Some(colour) = "RGBW".find(letter.to_ascii_uppercase()) else {
                return;
            };
            let fine = letter.is_ascii_lowercase();
            let has_fine = thing.letters.contains(letter.to_ascii_lowercase());
            let level = match (fine, has_fine) {
                (true, _) => level,
                (false, true) => level * 256,
                (false, false) => level * 257,
            };
            if let Some((.., levels)) = found.last_mut() {
                levels[colour] += level;
            }
        });
        found
    }

    /// Where a pixel is: each quarter turn takes the upper left corner to the upper right.
    fn place(&self, thing: &Thing, pixel: usize) -> [f64; 2] {
        let [width, height] = self.plan.grid.panel_mm.map(|size| size.0);
        let gap = self.plan.grid.gap_mm.0;
        let [mut x, mut y] = self.plan.panel_kinds[thing.kind].pixels_mm[pixel];
        if thing.mirrored {
            x = width - x;
        }
        let (mut wide, mut high) = (width, height);
        for _ in 0..thing.turn_deg / 90 {
            (x, y) = (high - y, x);
            (wide, high) = (high, wide);
        }
        [
            f64::from(thing.at.column) * (width + gap) + x,
            f64::from(thing.at.row) * (height + gap) + y,
        ]
    }
}

/// The letters of a kind of pixel.
fn letters(plan: &Floor, pixel_kind: usize) -> String {
    let slots = plan.pixel_kinds[pixel_kind].slots.iter();
    let letter = |slot: &crate::floor::model::SlotRole| {
        let letter = match slot.colour {
            Colour::Red => 'R',
            Colour::Green => 'G',
            Colour::Blue => 'B',
            Colour::White => 'W',
        };
        match slot.byte {
            Byte::Fine { .. } => letter.to_ascii_lowercase(),
            _ => letter,
        }
    };
    slots.map(letter).collect()
}
