//! A light that is told pixel by pixel and colour by colour: what a survey shows.

use std::sync::Arc;

use crate::floor::model::Colour;
use crate::floor::tables::Tables;

/// The levels of each colour of one pixel, in the order of [`Colour::ALL`].
pub type Levels = [u8; Colour::ALL.len()];

/// The whole floor, pixel by pixel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Woven {
    /// One for each pixel of the floor.
    pub pixels: Arc<[Levels]>,
    /// Panels with a lit pixel.
    pub panels: Vec<usize>,
    /// For people.
    pub words: String,
}

/// Writes all parts of a universe that leaves. Both halves of a 16-bit level get the same byte:
/// that is the same share of full.
pub(super) fn write(tables: &Tables, out: usize, pixels: &[Levels], slots: &mut [u8]) {
    for part in &tables.outputs[out].parts {
        let roles = &tables.patterns[usize::from(part.pattern)].slots;
        let target = &mut slots[usize::from(part.dst)..][..usize::from(part.len)];
        for (at, slot) in target.iter_mut().enumerate() {
            let place = usize::from(part.phase) + at;
            let pixel = part.first_pixel as usize + place / roles.len();
            *slot = pixels[pixel][roles[place % roles.len()].colour as usize];
        }
    }
}
