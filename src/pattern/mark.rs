//! A panel with its first pixels marked, so that one look tells how it lies, whether its first
//! slot is where it should be, and whether its colours are.

use std::ops::Range;

use crate::floor::Floor;
use crate::floor::model::{Colour, PanelKind};

/// Pixels of a panel, from 0 in wiring order, and the colour that they light; dark if none.
pub(super) type Tone = (Range<u32>, Option<Colour>);

/// The first pixel alone in one colour, a stretch after it in another, the rest in a third. Where
/// a kind of pixel has fewer colours, the stretch is dark, and the first is like the rest.
pub(super) fn tones(floor: &Floor, panel: usize) -> Vec<Tone> {
    let kind = &floor.panel_kinds[floor.panels[panel].kind];
    let has: Vec<Colour> = floor.pixel_kinds[kind.pixel_kind].colours().collect();
    let count = u32::try_from(kind.pixels_mm.len()).unwrap_or(u32::MAX);
    let end = stretch_end(floor, kind, count);
    let tones = [
        (0..1, has.first()),
        (1..end, has.get(2)),
        (end..count, has.get(1).or(has.first())),
    ];
    let tones = tones
        .into_iter()
        .map(|(range, colour)| (range, colour.copied()));
    tones.filter(|(range, _)| !range.is_empty()).collect()
}

/// Where the stretch ends, so that the panel looks different in as many of the ways in which it
/// can lie as possible. Our choice: about a quarter, if that does.
fn stretch_end(floor: &Floor, kind: &PanelKind, count: u32) -> u32 {
    if count < 3 {
        return 1;
    }
    let tries = [count / 4, count / 3, count / 2, 1, 2];
    let tries = tries.map(|length| length.clamp(1, count - 2) + 1);
    let mut best = (0, 2);
    for end in tries {
        let different = different(floor, kind, end);
        if different > best.0 {
            best = (different, end);
        }
    }
    best.1
}

/// Number of looks among all ways in which the panel can lie.
fn different(floor: &Floor, kind: &PanelKind, end: u32) -> usize {
    let [width, height] = floor.grid.panel_mm.map(|size| size.0);
    let mut looks: Vec<Vec<(i64, i64, u8)>> = Vec::new();
    for way in 0..8 {
        let mut look = Vec::with_capacity(kind.pixels_mm.len());
        for (at, [x, y]) in (0_u32..).zip(&kind.pixels_mm) {
            let tone = u8::from(at > 0) + u8::from(at >= end);
            let x = if way & 4 == 0 { *x } else { width - x };
            let [x, y] = match way & 3 {
                1 => [height - y, x],
                2 => [width - x, height - y],
                3 => [*y, width - x],
                _ => [x, *y],
            };
            look.push((tenths(x), tenths(y), tone));
        }
        look.sort_unstable();
        looks.push(look);
    }
    looks.sort_unstable();
    looks.dedup();
    looks.len()
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a panel has less than 2^60 mm"
)]
fn tenths(mm: f64) -> i64 {
    (mm * 10.0).round() as i64
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::floor::testing;

    /// Counted by hand: the test floor's "ring" has 4 pixels, clockwise from the upper left.
    #[test]
    fn the_first_pixel_a_stretch_and_the_rest_differ() {
        let floor = testing::floor();
        assert_eq!(
            tones(&floor, 0),
            [
                (0..1, Some(Colour::Red)),
                (1..2, Some(Colour::Blue)),
                (2..4, Some(Colour::Green)),
            ]
        );
        // Of two pixels the second is the rest.
        assert_eq!(
            tones(&floor, 2),
            [(0..1, Some(Colour::Red)), (1..2, Some(Colour::Green))]
        );
    }

    #[test]
    fn all_eight_ways_of_lying_look_different() {
        // The demo's matrix (to and fro) and its strip round the edge.
        let floor = testing::demo();
        for kind in &floor.panel_kinds {
            let count = u32::try_from(kind.pixels_mm.len()).unwrap();
            let end = stretch_end(&floor, kind, count);
            assert_eq!(different(&floor, kind, end), 8, "{}", kind.name);
        }
    }
}
