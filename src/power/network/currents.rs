//! The full current of every pixel, from the levels that leave.

use crate::floor::tables::{OutUniverse, Pattern, Tables};
use crate::units::Draw;

/// Amperes that the colours of every pixel of the floor would draw at full voltage.
///
/// `leaving` gives the slots of each of [`Tables::outputs`], in that order; slots and universes that
/// are missing count as dark. `pixel_a` needs one place for each pixel of the floor.
pub fn pixel_currents<'a>(
    tables: &Tables,
    leaving: impl IntoIterator<Item = &'a [u8]>,
    pixel_a: &mut [f64],
) {
    pixel_a.fill(0.0);
    for (output, slots) in tables.outputs.iter().zip(leaving) {
        add_currents(output, &tables.patterns, slots, pixel_a);
    }
}

/// Adds what the slots of one universe contribute. A pixel that straddles gets a part of its
/// current from each of two universes.
pub fn add_currents(output: &OutUniverse, patterns: &[Pattern], slots: &[u8], pixel_a: &mut [f64]) {
    for part in &output.parts {
        let pattern = &patterns[usize::from(part.pattern)];
        let roles = pattern.slots.len();
        let mut phase = usize::from(part.phase);
        let mut pixel = part.first_pixel as usize;
        let mut drawn = Draw::ZERO;
        let from = usize::from(part.dst).min(slots.len());
        let until = usize::from(part.dst + part.len).min(slots.len());
        for level in &slots[from..until] {
            drawn += Draw(u64::from(*level) * pattern.slots[phase].parts_per_step());
            phase += 1;
            if phase == roles {
                pixel_a[pixel] += drawn.amps().0;
                (phase, pixel, drawn) = (0, pixel + 1, Draw::ZERO);
            }
        }
        if drawn != Draw::ZERO {
            pixel_a[pixel] += drawn.amps().0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor::testing;
    use crate::power::draw;

    #[test]
    fn pixels_draw_what_their_panel_does() {
        // Against `power::draw`, which adds up whole panels, on a floor with 16-bit pixels of which
        // one straddles two universes.
        let tables = testing::tables();
        let arrived: Vec<u8> = (0..tables.universes.len() * 512)
            .map(|slot| u8::try_from(slot * 7 % 251).unwrap())
            .collect();
        let mut leaving = vec![[0_u8; 512]; tables.outputs.len()];
        let mut panel_a = vec![0.0; tables.panels.len()];
        for (output, slots) in tables.outputs.iter().zip(&mut leaving) {
            for part in &output.parts {
                let pattern = &tables.patterns[usize::from(part.pattern)];
                let drawn = draw::write_scaled(part, pattern, &arrived, draw::Scale::ONE, slots);
                panel_a[part.panel as usize] += drawn.amps().0;
            }
        }
        let mut pixel_a = vec![9.0; tables.pixels_mm.len()];
        let slots = leaving.iter().map(<[u8; 512]>::as_slice);
        pixel_currents(&tables, slots, &mut pixel_a);
        for (row, whole) in tables.panels.iter().zip(panel_a) {
            let pixels = &pixel_a[row.first_pixel as usize..][..row.pixels as usize];
            assert!(pixels.iter().all(|amps| *amps > 0.0));
            assert!((pixels.iter().sum::<f64>() - whole).abs() < 1e-12);
        }
        // WS2811 datasheet: 18.5 mA an output. The first pixel's three levels are known.
        let levels: f64 = arrived[tables.outputs[0].parts[0].src as usize..][..3]
            .iter()
            .map(|level| f64::from(*level))
            .sum();
        assert!((pixel_a[0] - 0.0185 * levels / 255.0).abs() < 1e-12);
    }
}
