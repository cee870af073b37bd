//! The floor file compiled into what the frame path reads: flat numbers, no names.
//!
//! Slots of all universes that arrive lie in one flat array, 512 for each universe, in the order
//! of [`Tables::universes`]; slots that leave lie in another, in the order of [`Tables::outputs`].
//! A [`Part`] is the stretch of one panel's slots inside one outgoing universe. Universes that a
//! run crosses are neighbours in both arrays, so a level whose halves lie in two universes is
//! still found at its partner's distance.

use std::ops::Range;
use std::sync::Arc;

use super::model::{Colour, SlotRole};
use crate::units::Draw;
use crate::wire::PortAddress;

/// Slots of one universe.
pub const UNIVERSE_SLOTS: usize = 512;

/// What the frame path reads.
#[derive(Debug, Clone, Default)]
pub struct Tables {
    /// Universes that arrive, ascending by Port-Address.
    pub universes: Vec<InUniverse>,
    /// Universes that leave, by node, then Port-Address.
    pub outputs: Vec<OutUniverse>,
    /// Slot patterns, one for each kind of pixel.
    pub patterns: Vec<Pattern>,
    /// One for each panel, in the order of [`Floor::panels`](super::model::Floor::panels).
    pub panels: Vec<PanelRow>,
    /// Centre of every pixel on the floor in mm from the upper left corner of position A1,
    /// panel by panel, in wiring order. Copies of the tables share them.
    pub pixels_mm: Arc<[[f32; 2]]>,
}

impl Tables {
    /// Universes that leave for one node, as indices into [`Self::outputs`].
    #[expect(
        clippy::cast_possible_truncation,
        reason = "counts are checked by the reader"
    )]
    pub fn outputs_of(&self, node: usize) -> Range<u32> {
        let of = |out: &OutUniverse| out.node.map_or(usize::MAX, |node| node as usize);
        let first = self.outputs.partition_point(|out| of(out) < node);
        let last = self.outputs.partition_point(|out| of(out) <= node);
        first as u32..last as u32
    }

    /// Whether any pixel has white of its own.
    pub fn has_white(&self) -> bool {
        let mut slots = self.patterns.iter().flat_map(|pattern| &pattern.slots);
        slots.any(|slot| slot.colour == Colour::White)
    }
}

/// A universe that arrives.
#[derive(Debug, Clone)]
pub struct InUniverse {
    /// Its address.
    pub port_address: PortAddress,
    /// The highest slot that lights anything, 1 to 512.
    pub slots: u16,
    /// Outgoing universes that read it, as indices into [`Tables::outputs`].
    pub outputs: Vec<u32>,
}

/// A universe that leaves.
#[derive(Debug, Clone)]
pub struct OutUniverse {
    /// Index of its node; nothing when the floor is only watched.
    pub node: Option<u32>,
    /// Its address at the node.
    pub port_address: PortAddress,
    /// Slots to send: the highest that a pixel hangs on, made even, at least 2.
    pub slots: u16,
    /// Stretches of panels, ascending by `dst`.
    pub parts: Vec<Part>,
    /// Stretches of unused pixels, ascending by `dst`. They are always sent dark, but until that
    /// has surely arrived their node may be showing light there.
    pub unused: Vec<Unused>,
}

/// The stretch of unused pixels before a panel inside one outgoing universe.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unused {
    /// The panel that their current counts as: an index into [`Tables::panels`].
    pub panel: u32,
    /// Index into [`Tables::patterns`].
    pub pattern: u16,
    /// Where in the pattern the stretch begins: 0 unless a pixel straddles.
    pub phase: u16,
    /// First slot within the outgoing universe, from 0.
    pub dst: u16,
    /// Number of slots.
    pub len: u16,
}

/// The stretch of one panel's slots inside one outgoing universe.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Part {
    /// Index into [`Tables::panels`].
    pub panel: u32,
    /// Index into [`Tables::patterns`].
    pub pattern: u16,
    /// Where in the pattern the stretch begins: 0 unless a pixel straddles.
    pub phase: u16,
    /// First slot within the outgoing universe, from 0.
    pub dst: u16,
    /// Number of slots.
    pub len: u16,
    /// First slot in the flat array of arriving slots.
    pub src: u32,
    /// The pixel (of the whole floor) that its first slot belongs to.
    pub first_pixel: u32,
}

/// The slots of one kind of pixel.
#[derive(Debug, Clone, PartialEq)]
pub struct Pattern {
    /// In wire order.
    pub slots: Vec<SlotRole>,
    /// Whether every slot carries a whole 8-bit level.
    pub whole: bool,
    /// What the colours of one pixel may draw together, if that is less than they can.
    pub room: Option<Draw>,
}

/// A panel as the frame path sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct PanelRow {
    /// Its first pixel on the whole floor.
    pub first_pixel: u32,
    /// Number of its pixels.
    pub pixels: u32,
    /// Index into [`Floor::feeds`](super::model::Floor::feeds).
    pub feed: u32,
    /// What it draws when dark.
    pub idle: Draw,
    /// What it draws beyond idle when every slot of its own is at full: unused pixels before it
    /// are meant to be dark.
    pub full: Draw,
    /// Pixels of each segment, in wiring order.
    pub segments: Vec<u32>,
}

impl PanelRow {
    /// The pixels of one segment, on the whole floor.
    ///
    /// # Panics
    /// When the panel has no such segment.
    pub fn segment(&self, segment: usize) -> Range<u32> {
        let first = self.first_pixel + self.segments[..segment].iter().sum::<u32>();
        first..first + self.segments[segment]
    }
}
