//! Signs that are given in time: a panel's position blinked, or spelled letter by letter.
//!
//! Everything begins and ends with slots of [`SLOT_MS`], and lights rise at even slots and fall at
//! odd ones only. So however many panels blink beside each other, the floor as a whole brightens
//! and dims no more often than every two slots: 1.25 flashes a second, where WCAG 2.2, success
//! criterion 2.3.1, allows three.

use crate::floor::model::Position;

/// Length of a slot in milliseconds.
pub const SLOT_MS: u64 = 400;

/// A short flash is lit for one slot and dark for one; it counts one.
const SHORT: u32 = 1;

/// A long flash, or a letter, is lit for three slots and dark for one; it counts ten.
const LONG: u32 = 3;

/// Slots of dark after a flash,
const BREATH: u32 = 1;

/// more of them between the column and the row,
const PAUSE: u32 = 4;

/// and before it all begins anew.
const REST: u32 = 8;

/// One panel's sign: figures that are lit in turn, with dark between them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sign {
    /// Which figure is lit, and for how many slots; dark where there is none.
    turns: Vec<(Option<usize>, u32)>,
}

impl Sign {
    /// The column, then the row, as flashes of figure 0: tens long, ones short.
    pub fn blinked(position: Position) -> Self {
        let mut turns = vec![(None, REST)];
        for (count, pause) in [(position.column, PAUSE), (position.row, 0)] {
            let count = u32::from(count) + 1;
            let tens = std::iter::repeat_n(LONG, count as usize / 10);
            let ones = std::iter::repeat_n(SHORT, count as usize % 10);
            for lit in tens.chain(ones) {
                turns.extend([(Some(0), lit), (None, BREATH)]);
            }
            turns.push((None, pause));
        }
        Self { turns }
    }

    /// Figures 0 to `letters` − 1, one after the other.
    pub fn spelled(letters: usize) -> Self {
        let mut turns = vec![(None, REST)];
        for letter in 0..letters {
            turns.extend([(Some(letter), LONG), (None, BREATH)]);
        }
        Self { turns }
    }

    /// The figure that is lit at `ms` milliseconds; nothing while it is dark.
    pub fn at(&self, ms: u64) -> Option<usize> {
        let all: u64 = self.turns.iter().map(|turn| u64::from(turn.1)).sum();
        let mut left = (ms / SLOT_MS) % all.max(1);
        for &(figure, slots) in &self.turns {
            match left.checked_sub(u64::from(slots)) {
                None => return figure,
                Some(rest) => left = rest,
            }
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `#` for each slot that is lit.
    fn drawn(sign: &Sign, slots: u64) -> String {
        (0..slots)
            .map(|slot| sign.at(slot * SLOT_MS).map_or('.', |_| '#'))
            .collect()
    }

    #[test]
    fn a_position_is_blinked_as_a_person_would_count_it() {
        let sign = Sign::blinked("C4".parse().unwrap());
        let cycle = "........#.#.#.....#.#.#.#.";
        assert_eq!(drawn(&sign, 26), cycle);
        assert_eq!(drawn(&sign, 52), cycle.repeat(2));
        // K is the eleventh letter; row 20 is two tens.
        let sign = Sign::blinked("K20".parse().unwrap());
        assert_eq!(drawn(&sign, 26), "........###.#.....###.###.");
        assert_eq!(sign.at(8 * SLOT_MS - 1), None);
        assert_eq!(sign.at(11 * SLOT_MS - 1), Some(0));
    }

    #[test]
    fn letters_come_one_after_the_other() {
        let sign = Sign::spelled(2);
        let figures: Vec<_> = (0..16).map(|slot| sign.at(slot * SLOT_MS)).collect();
        assert_eq!(figures[..8], [None; 8]);
        assert_eq!(figures[8..12], [Some(0), Some(0), Some(0), None]);
        assert_eq!(figures[12..], [Some(1), Some(1), Some(1), None]);
    }

    #[test]
    fn lights_rise_at_even_slots_and_fall_at_odd_ones() {
        for position in ["A1", "J10", "Z99", "AB37"] {
            let position: Position = position.parse().unwrap();
            let mut lit = false;
            let spelled = Sign::spelled(position.to_string().len());
            for sign in [Sign::blinked(position), spelled] {
                for slot in 0..2_000 {
                    let now = sign.at(slot * SLOT_MS).is_some();
                    if now != lit {
                        assert_eq!(now, slot % 2 == 0, "{position}, slot {slot}");
                    }
                    lit = now;
                }
                lit = false;
            }
        }
    }
}
