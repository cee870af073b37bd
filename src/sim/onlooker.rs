//! Someone truthful on a floor, who says what they see.

use std::collections::BTreeMap;

use super::installer::{Installed, Lights, Slots};
use crate::floor::model::Position;

/// Levels below this, of 65,535, are not seen: the fine half of a level alone is dark.
const SEEN: u32 = 512;

/// What someone sees.
#[derive(Debug, Clone)]
pub struct Onlooker {
    lights: Lights,
}

/// What a page draws for them: where each light is, in mm, and its colour by name.
pub type Drawn = Vec<([f64; 2], String)>;

impl Onlooker {
    /// Looks at a floor that gets these slots.
    pub fn at(floor: &Installed, slots: &Slots) -> Self {
        let mut lights = floor.lights(slots);
        lights.retain(|(.., levels)| levels.iter().any(|level| *level >= SEEN));
        Self { lights }
    }

    /// Whether nothing lights.
    pub fn is_dark(&self) -> bool {
        self.lights.is_empty()
    }

    /// Whether a drawing is exactly what they see.
    pub fn recognises(&self, drawn: &Drawn) -> bool {
        let same = |[x, y]: &[f64; 2], [px, py]: &[f64; 2]| (x - px).hypot(y - py) < 0.5;
        self.lights.len() == drawn.len()
            && self.lights.iter().all(|(_, place, levels)| {
                let mut all = drawn.iter();
                all.any(|(at, colour)| same(at, place) && *colour == name(levels))
            })
    }

    /// The position with the most lit pixels; the first of several.
    pub fn brightest(&self) -> Option<Position> {
        let mut counts: BTreeMap<Position, usize> = BTreeMap::new();
        for (position, ..) in &self.lights {
            *counts.entry(*position).or_default() += 1;
        }
        let most = counts.values().copied().max()?;
        counts
            .into_iter()
            .find(|(_, count)| *count == most)
            .map(|(position, _)| position)
    }

    /// A pixel that lights: its position, and where it is on the floor in mm.
    pub fn pixel(&self) -> Option<(Position, [f64; 2])> {
        self.lights
            .first()
            .map(|(position, place, _)| (*position, *place))
    }

    /// The colour that most lit pixels of the brightest panel have.
    pub fn colour(&self) -> Option<String> {
        let brightest = self.brightest()?;
        let mut counts: BTreeMap<String, usize> = BTreeMap::new();
        let there = self.lights.iter().filter(|(at, ..)| *at == brightest);
        for (.., levels) in there {
            *counts.entry(name(levels)).or_default() += 1;
        }
        counts
            .into_iter()
            .max_by_key(|(_, count)| *count)
            .map(|(name, _)| name)
    }
}

/// What people call a mixture of light.
fn name(levels: &[u32; 4]) -> String {
    let [red, green, blue, white] = levels.map(|level| level >= SEEN);
    let word = match (red, green, blue, white) {
        (_, _, _, true) | (true, true, true, _) => "white",
        (true, true, false, _) => "yellow",
        (true, false, true, _) => "magenta",
        (false, true, true, _) => "cyan",
        (true, ..) => "red",
        (_, true, ..) => "green",
        _ => "blue",
    };
    word.to_owned()
}
