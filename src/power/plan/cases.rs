//! What the floor may be asked to show, and what a pixel and a panel draw then.

use std::fmt;

use serde::Serialize;

use crate::floor::model::{Colour, Floor, Panel, PixelKind, SlotRole};
use crate::units::{Draw, count};

/// What all pixels show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Case {
    /// Every colour at full.
    FullWhite,
    /// This share of full white, 0 to 1.
    Typical(f64),
    /// One colour at full.
    Colour(Colour),
    /// Nothing.
    Dark,
}

impl Case {
    /// Full white, the typical loads, each colour that the floor has, dark.
    pub fn all(floor: &Floor, typical: &[f64]) -> Vec<Self> {
        let has = |colour: &Colour| {
            let mut slots = floor.pixel_kinds.iter().flat_map(|kind| &kind.slots);
            slots.any(|slot| slot.colour == *colour)
        };
        let colours = Colour::ALL.into_iter().filter(has).map(Self::Colour);
        let typical = typical.iter().map(|share| Self::Typical(*share));
        let first = [Self::FullWhite].into_iter().chain(typical);
        first.chain(colours).chain([Self::Dark]).collect()
    }

    /// The level of a colour, 0 to 1.
    fn level(self, colour: Colour) -> f64 {
        match self {
            Self::FullWhite => 1.0,
            Self::Typical(share) => share,
            Self::Colour(only) => f64::from(u8::from(only == colour)),
            Self::Dark => 0.0,
        }
    }

    /// What one pixel draws, in amperes at its nominal voltage, idle included.
    pub fn pixel_a(self, kind: &PixelKind) -> f64 {
        f64::from(kind.idle_ua) / 1e6 + self.light_a(kind)
    }

    /// What the colours of one pixel draw, in amperes at its nominal voltage.
    pub(super) fn light_a(self, kind: &PixelKind) -> f64 {
        // 255 steps; the halves of a 16-bit level add up to one full current.
        let full_a = |slot: &SlotRole| Draw(slot.parts_per_step() * 255).amps().0;
        let slots = kind.slots.iter();
        slots
            .map(|slot| full_a(slot) * self.level(slot.colour))
            .sum()
    }

    /// What a panel draws, in amperes at its nominal voltage: its pixels, and the idle current of
    /// the unused ones before it.
    pub fn panel_a(self, floor: &Floor, panel: &Panel) -> f64 {
        let kind = &floor.panel_kinds[panel.kind];
        let pixel = &floor.pixel_kinds[kind.pixel_kind];
        let unused_a = f64::from(panel.lead.unused_pixels) * f64::from(pixel.idle_ua) / 1e6;
        count(kind.pixels_mm.len()) * self.pixel_a(pixel) + unused_a
    }
}

impl fmt::Display for Case {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::FullWhite => f.write_str("full white"),
            Self::Typical(share) => write!(f, "typical {} %", rounded(share * 100.0)),
            Self::Colour(colour) => f.write_str(colour.name()),
            Self::Dark => f.write_str("dark"),
        }
    }
}

/// Without what floating point left behind.
fn rounded(number: f64) -> f64 {
    (number * 1e6).round() / 1e6
}

impl Serialize for Case {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor::Tables;
    use crate::floor::testing;
    use crate::power::tree::Tree;

    #[test]
    fn a_pixel_draws_what_its_datasheet_says() {
        // WS2811 datasheet: 18.5 mA an output; three of them and 2.6 mA idle.
        let floor = testing::floor();
        let pixel = &floor.pixel_kinds[0];
        let draws = |case: Case, a: f64| assert!((case.pixel_a(pixel) - a).abs() < 1e-12);
        draws(Case::FullWhite, 0.0581);
        draws(Case::Colour(Colour::Red), 0.0211);
        draws(Case::Colour(Colour::White), 0.0026);
        draws(Case::Typical(0.35), 0.0026 + 0.35 * 0.0555);
        draws(Case::Dark, 0.0026);
        // Four colours of 20 mA in 16 bits each, 1 mA idle.
        let fine = &floor.pixel_kinds[1];
        assert!((Case::FullWhite.pixel_a(fine) - 0.081).abs() < 1e-12);
    }

    /// The cap adds up whole parts of a microampere; the plan must not differ from it.
    #[test]
    fn panels_draw_what_the_cap_adds_up() {
        let mut floor = testing::demo();
        floor.panels[3].lead.unused_pixels = 2;
        let tables = Tables::compile(&floor);
        for (row, panel) in tables.panels.iter().zip(&floor.panels) {
            let full = (row.idle + row.full).amps().0;
            assert!((Case::FullWhite.panel_a(&floor, panel) - full).abs() < 1e-9);
            assert!((Case::Dark.panel_a(&floor, panel) - row.idle.amps().0).abs() < 1e-9);
        }
        let tree = Tree::new(&floor, &tables);
        let full = tree.carried(tables.panels.iter().map(|row| row.idle + row.full));
        let of_first_feed = floor.feeds[0].panels.iter();
        let sum: f64 = of_first_feed
            .map(|&at| Case::FullWhite.panel_a(&floor, &floor.panels[at]))
            .sum();
        assert!((sum - full[tree.feed(0) as usize].amps().0).abs() < 1e-9);
    }

    #[test]
    fn cases_are_those_of_the_floor() {
        let told = |floor: &Floor| -> Vec<String> {
            let cases = Case::all(floor, &[0.35, 0.125]);
            cases.iter().map(Case::to_string).collect()
        };
        assert_eq!(
            told(&testing::demo()).join(", "),
            "full white, typical 35 %, typical 12.5 %, red, green, blue, dark"
        );
        assert!(told(&testing::floor()).contains(&"white".to_owned()));
    }
}
