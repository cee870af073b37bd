//! What may be otherwise on the floor than planned, and what that makes of the plan.

use std::collections::BTreeSet;

use serde::Serialize;
use utoipa::ToSchema;

use super::wired::Wired;
use crate::floor::Floor;
use crate::floor::model::{Byte, Colour, PixelKind, SlotRole};

/// One thing that is otherwise than planned. Panels are named by their index, which is that of the
/// position.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Mistake {
    /// Two panels lie in each other's place; what hangs on their slots, and their serials, moved
    /// with them. They lie as the place wants it.
    Swapped { a: usize, b: usize },
    /// A panel lies turned or mirrored, in all so.
    Turned {
        panel: usize,
        turn_deg: u16,
        mirrored: bool,
    },
    /// A run is wired from its other end; every panel may have been turned half round for it.
    Reversed { run: usize, turned: bool },
    /// A run begins at another slot.
    Shifted { run: usize, slot: u16 },
    /// All pixels of a kind have their colours in another order.
    KindColours { pixel_kind: usize, order: String },
    /// The pixels of one panel have.
    PanelColours { panel: usize, order: String },
    /// A panel stays dark.
    Dark { panel: usize },
}

/// What a mistake is called in JSON.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum What {
    /// Two panels lie in each other's place.
    Swapped,
    /// A panel lies turned.
    Turned,
    /// A panel is mirrored.
    Mirrored,
    /// A run is wired from its other end.
    Reversed,
    /// A run begins at another slot.
    Shifted,
    /// Colours come out in another order.
    Colours,
    /// A panel stays dark.
    Dark,
    /// An answer fits nothing that could be thought of.
    Unexplained,
}

impl Mistake {
    /// How far-fetched it is; the least is thought of first. Our choice.
    pub(super) const fn weight(&self) -> u32 {
        match self {
            Self::Swapped { .. } | Self::Dark { .. } | Self::KindColours { .. } => 10,
            Self::Reversed { .. } | Self::PanelColours { .. } | Self::Turned { .. } => 11,
            Self::Shifted { .. } => 12,
        }
    }

    /// When two are thought of at once, the order in which they are laid on the plan.
    pub(super) const fn order(&self) -> u8 {
        match self {
            Self::Swapped { .. } => 0,
            Self::Reversed { .. } => 1,
            Self::Shifted { .. } => 2,
            Self::KindColours { .. } => 3,
            Self::PanelColours { .. } => 4,
            Self::Turned { .. } => 5,
            Self::Dark { .. } => 6,
        }
    }

    /// The floor with this on top.
    pub(super) fn applied(&self, to: &Wired) -> Option<Wired> {
        let (mut floor, mut dark) = (to.floor.clone(), to.dark.clone());
        match self {
            Self::Swapped { a, b } => swap(&mut floor, &mut dark, *a, *b),
            Self::Turned {
                panel,
                turn_deg,
                mirrored,
            } => {
                floor.panels[*panel].turn_deg = *turn_deg;
                floor.panels[*panel].mirrored = *mirrored;
            }
            Self::Reversed { run, turned } => reverse(&mut floor, *run, *turned),
            Self::Shifted { run, slot } => floor.runs[*run].slot = *slot,
            Self::KindColours { pixel_kind, order } => {
                let slots = &mut floor.pixel_kinds[*pixel_kind].slots;
                *slots = reordered(slots, order)?;
            }
            Self::PanelColours { panel, order } => own_kind(&mut floor, *panel, order)?,
            Self::Dark { panel } => {
                dark.insert(*panel);
            }
        }
        Wired::new(floor, dark)
    }
}

fn swap(floor: &mut Floor, dark: &mut BTreeSet<usize>, a: usize, b: usize) {
    for run in &mut floor.runs {
        for at in &mut run.panels {
            *at = match *at {
                at if at == a => b,
                at if at == b => a,
                at => at,
            };
        }
    }
    let (mut one, mut other) = (floor.panels[a].clone(), floor.panels[b].clone());
    // What belongs to the place.
    std::mem::swap(&mut one.position, &mut other.position);
    std::mem::swap(&mut one.turn_deg, &mut other.turn_deg);
    std::mem::swap(&mut one.mirrored, &mut other.mirrored);
    std::mem::swap(&mut one.feed, &mut other.feed);
    (floor.panels[a], floor.panels[b]) = (other, one);
    let (was_a, was_b) = (dark.remove(&a), dark.remove(&b));
    dark.extend(was_a.then_some(b));
    dark.extend(was_b.then_some(a));
}

fn reverse(floor: &mut Floor, run: usize, turned: bool) {
    let order = &mut floor.runs[run].panels;
    // What is passed hangs on the wire, not on the panel.
    let leads: Vec<_> = order.iter().map(|&at| floor.panels[at].lead).collect();
    order.reverse();
    for (&at, lead) in order.iter().zip(leads) {
        let panel = &mut floor.panels[at];
        panel.lead = lead;
        if turned {
            panel.turn_deg = (panel.turn_deg + 180) % 360;
        }
    }
}

/// A kind of pixel and of panel for one panel alone.
fn own_kind(floor: &mut Floor, panel: usize, order: &str) -> Option<()> {
    let kind = floor.panel_kinds[floor.panels[panel].kind].clone();
    let pixel = floor.pixel_kinds[kind.pixel_kind].clone();
    let pixel_name = own_name(&pixel.name, order);
    let pixel_kind = match floor.pixel_kinds.iter().position(|k| k.name == pixel_name) {
        Some(found) if floor.pixel_kinds[found].wire_order() == order => found,
        Some(_) => return None,
        None => {
            floor.pixel_kinds.push(PixelKind {
                name: pixel_name,
                slots: reordered(&pixel.slots, order)?,
                ..pixel
            });
            floor.pixel_kinds.len() - 1
        }
    };
    let panel_name = own_name(&kind.name, order);
    let found = floor.panel_kinds.iter().position(|k| k.name == panel_name);
    floor.panels[panel].kind = match found {
        Some(found) if floor.panel_kinds[found].pixel_kind == pixel_kind => found,
        Some(_) => return None,
        None => {
            floor.panel_kinds.push(crate::floor::model::PanelKind {
                name: panel_name,
                pixel_kind,
                ..kind
            });
            floor.panel_kinds.len() - 1
        }
    };
    Some(())
}

/// What a kind is called that differs from another in its order alone.
fn own_name(name: &str, order: &str) -> String {
    let short: String = name.chars().take(54).collect();
    format!("{short}-{order}")
}

/// The colours of a kind of pixel in the order of their first slots.
pub(super) fn colours(slots: &[SlotRole]) -> Vec<Colour> {
    let mut found = Vec::new();
    for slot in slots {
        if !found.contains(&slot.colour) {
            found.push(slot.colour);
        }
    }
    found
}

/// All orders of a kind's colours but its own. Where its slots have halves, each keeps its place
/// in its colour.
pub(super) fn orders(kind: &PixelKind) -> Vec<String> {
    let has = colours(&kind.slots);
    // A level of 8 bits and one of 16 can't change places.
    let halves = |colour: Colour| kind.slots.iter().filter(|s| s.colour == colour).count();
    let mut found = Vec::new();
    permute(&mut has.clone(), 0, &mut |other: &[Colour]| {
        if other != has && has.iter().zip(other).all(|(a, b)| halves(*a) == halves(*b)) {
            found.push(written(&kind.slots, &has, other));
        }
    });
    found
}

fn permute(list: &mut Vec<Colour>, from: usize, each: &mut impl FnMut(&[Colour])) {
    if from + 1 >= list.len() {
        each(list);
        return;
    }
    for at in from..list.len() {
        list.swap(from, at);
        permute(list, from + 1, each);
        list.swap(from, at);
    }
}

fn written(slots: &[SlotRole], has: &[Colour], other: &[Colour]) -> String {
    let letter = |slot: &SlotRole| {
        let at = has.iter().position(|c| *c == slot.colour);
        let colour = other[at.unwrap_or_default()];
        let letter = match colour {
            Colour::Red => 'R',
            Colour::Green => 'G',
            Colour::Blue => 'B',
            Colour::White => 'W',
        };
        if matches!(slot.byte, Byte::Fine { .. }) {
            letter.to_ascii_lowercase()
        } else {
            letter
        }
    };
    slots.iter().map(letter).collect()
}

fn reordered(slots: &[SlotRole], order: &str) -> Option<Vec<SlotRole>> {
    let current = |colour: Colour| slots.iter().find(|s| s.colour == colour).map(|s| s.full_ua);
    let letters = order.chars().zip(slots).map(|(letter, slot)| {
        let colour = match letter.to_ascii_uppercase() {
            'R' => Colour::Red,
            'G' => Colour::Green,
            'B' => Colour::Blue,
            'W' => Colour::White,
            _ => return None,
        };
        Some(SlotRole {
            colour,
            byte: slot.byte,
            full_ua: current(colour)?,
        })
    });
    letters.collect()
}
