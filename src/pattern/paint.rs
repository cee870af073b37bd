//! From lit pixels to the slots of a universe that leaves.

use std::ops::Range;

use super::order::Light;
use crate::floor::model::{Byte, Colour};
use crate::floor::tables::{Pattern, Tables};

/// What a pattern lights at one moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lit {
    /// Whether each pixel of the floor is lit.
    pub pixels: Vec<bool>,
    /// The one colour that is lit, if the pattern shows colours alone.
    pub only: Option<Colour>,
}

/// The bytes of a lit pixel, slot by slot. A 16-bit level gets the same byte in both halves:
/// that is the same share of full, for 65,535 = 255 × 257.
pub(super) fn lit_pixel(kind: &Pattern, only: Option<Colour>, light: Light, level: u8) -> Vec<u8> {
    let mut has: Vec<Colour> = Vec::new();
    for slot in &kind.slots {
        if !has.contains(&slot.colour) {
            has.push(slot.colour);
        }
    }
    let parts = only.map_or_else(|| light.parts(&has), |colour| vec![colour]);
    let byte = |colour| if parts.contains(&colour) { level } else { 0 };
    kind.slots.iter().map(|slot| byte(slot.colour)).collect()
}

/// The bytes of a lit pixel, without the fine halves of 16-bit levels if only the coarse ones are
/// wanted.
pub(super) fn halves(kind: &Pattern, mut bytes: Vec<u8>, coarse: bool) -> Vec<u8> {
    for (byte, slot) in bytes.iter_mut().zip(&kind.slots) {
        if coarse && matches!(slot.byte, Byte::Fine { .. }) {
            *byte = 0;
        }
    }
    bytes
}

/// What is written for a lit pixel.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bytes<'a> {
    /// For each kind of pixel.
    pub(super) of_kind: &'a [Vec<u8>],
    /// For pixels that have their own.
    pub(super) own: &'a [(Range<u32>, Vec<u8>)],
}

/// Writes the covered parts of a universe that leaves: lit pixels by their kind's bytes, all
/// others black. `slots` are its 512.
pub(super) fn write(
    tables: &Tables,
    out: usize,
    covered: &[bool],
    lit: &Lit,
    bytes: Bytes<'_>,
    slots: &mut [u8],
) {
    for part in &tables.outputs[out].parts {
        if !covered[part.panel as usize] {
            continue;
        }
        let of_kind = &bytes.of_kind[usize::from(part.pattern)];
        let target = &mut slots[usize::from(part.dst)..][..usize::from(part.len)];
        for (at, slot) in target.iter_mut().enumerate() {
            let place = usize::from(part.phase) + at;
            let pixel = part.first_pixel as usize + place / of_kind.len();
            *slot = if lit.pixels[pixel] {
                let own = bytes
                    .own
                    .iter()
                    .find(|(range, _)| (range.start as usize..range.end as usize).contains(&pixel));
                own.map_or(of_kind, |(_, own)| own)[place % of_kind.len()]
            } else {
                0
            };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::floor::testing;

    #[test]
    fn a_level_of_sixteen_bits_is_the_same_share_of_full() {
        let tables = testing::tables();
        let bytes = lit_pixel(&tables.patterns[1], None, Light::White, 128);
        // R, r, G, g, B, b, W, w.
        assert_eq!(bytes, [0, 0, 0, 0, 0, 0, 128, 128]);
        let level = f64::from(u16::from_be_bytes([bytes[6], bytes[7]])) / 65_535.0;
        assert!((level - 128.0 / 255.0).abs() < 1e-12);
        let bytes = lit_pixel(&tables.patterns[0], None, Light::Yellow, 9);
        assert_eq!(bytes, [9, 9, 0], "green, red, blue");
        // Shown alone, a colour that a pixel lacks leaves it dark.
        let bytes = lit_pixel(&tables.patterns[0], Some(Colour::White), Light::Red, 9);
        assert_eq!(bytes, [0, 0, 0]);
    }
}
