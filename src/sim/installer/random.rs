//! Random mistakes that make sense on a floor.

use super::{Blunder, Installed, letters};
use crate::sim::link::Chance;

impl Installed {
    /// Makes a random mistake of one of eight kinds; says whether it could be made.
    pub fn random(&mut self, chance: &mut Chance) -> bool {
        let pick = |chance: &mut Chance, count: usize| {
            let most = u64::try_from(count.saturating_sub(1)).unwrap_or_default();
            usize::try_from(chance.up_to(most)).unwrap_or_default()
        };
        let panel = |chance: &mut Chance| {
            let at = pick(chance, self.plan.panels.len());
            self.plan.panels[at].position
        };
        let run = pick(chance, self.plan.runs.len());
        let other_order = |chance: &mut Chance, kind: usize| {
            let planned = letters(&self.plan, kind);
            shuffled(&planned, chance)
        };
        let blunder = match chance.up_to(7) {
            0 => Blunder::Swapped(panel(chance), panel(chance)),
            1 => Blunder::Turned(panel(chance), [90, 180, 270][pick(chance, 3)]),
            2 => Blunder::Mirrored(panel(chance)),
            3 => Blunder::Reversed(run),
            4 => {
                let by = i16::try_from(chance.up_to(29)).unwrap_or_default() + 1;
                let back = chance.up_to(1) == 1;
                Blunder::Shifted(run, if back { -by } else { by })
            }
            5 => {
                let kind = pick(chance, self.plan.pixel_kinds.len());
                Blunder::KindColours(kind, other_order(chance, kind))
            }
            6 => {
                let at = pick(chance, self.plan.panels.len());
                let panel = &self.plan.panels[at];
                let kind = self.plan.panel_kinds[panel.kind].pixel_kind;
                Blunder::PanelColours(panel.position, other_order(chance, kind))
            }
            _ => Blunder::Dark(panel(chance)),
        };
        let before = self.clone();
        let made = self.makes_sense(&blunder) && self.blunder(blunder) && self.is_apart();
        if !made {
            *self = before;
        }
        made
    }

    /// Whether it would be seen, and is of one kind only: two panels of a run that is reversed
    /// are just swapped, and a panel turned so that it looks the same is not turned.
    fn makes_sense(&self, blunder: &Blunder) -> bool {
        let [width, height] = self.plan.grid.panel_mm;
        let square = (width.0 - height.0).abs() < f64::EPSILON;
        let again = |before: &Blunder| {
            std::mem::discriminant(before) == std::mem::discriminant(blunder)
                && before.touches(blunder)
        };
        let mut after = self.clone();
        if self.blunders.iter().any(again) || !after.blunder(blunder.clone()) {
            return false;
        }
        match blunder {
            Blunder::Reversed(run) => self.runs[*run].1.len() > 3,
            Blunder::Turned(at, more) => {
                (square || *more == 180) && self.pixels(*at) > 2 && !self.is_dark(*at)
            }
            Blunder::Mirrored(at) => self.pixels(*at) > 2 && !self.is_dark(*at),
            Blunder::PanelColours(at, order) => {
                let mut copy = self.clone();
                !self.is_dark(*at) && copy.thing(*at).is_some_and(|t| t.letters != *order)
            }
            Blunder::KindColours(kind, order) => {
                letters(&self.plan, *kind) != *order
                    && self
                        .runs
                        .iter()
                        .flat_map(|(_, things)| things)
                        .any(|thing| {
                            self.plan.panel_kinds[thing.kind].pixel_kind == *kind && !thing.dark
                        })
            }
            _ => true,
        }
    }
}

/// The colours in a random order; halves stay with their whole.
fn shuffled(letters: &str, chance: &mut Chance) -> String {
    let capitals: Vec<char> = letters.chars().filter(char::is_ascii_uppercase).collect();
    let mut other = capitals.clone();
    for at in (1..other.len()).rev() {
        let with = usize::try_from(chance.up_to(u64::try_from(at).unwrap_or_default()));
        other.swap(at, with.unwrap_or_default());
    }
    let letter = |letter: char| {
        let capital = letter.to_ascii_uppercase();
        let at = capitals.iter().position(|c| *c == capital);
        let new = at.map_or(capital, |at| other[at]);
        if letter.is_ascii_lowercase() {
            new.to_ascii_lowercase()
        } else {
            new
        }
    };
    letters.chars().map(letter).collect()
}
