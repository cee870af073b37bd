//! Whether what a universe carries is what the file maps, shifted by some slots.
//!
//! Light in a slot is all that is looked at, not how much: L is the set of slots that are lit, E
//! the set that should be. For every shift n their distance is the number of slots that are in L
//! or in E + n but not in both, |L| + |E| − 2·|L ∩ (E + n)|; the best n is where the two sets'
//! cross-correlation is highest. It is believed only if it is *clearly* the best: every other
//! shift's distance is at least three times the best one's, and two slots more. Every shift is
//! looked at that leaves a slot in the universe: panels that follow each other look alike, and only
//! the ends of their row tell a shift by a whole panel.
//!
//! That E is where it should be is said only if, beside that, all of E is lit. So many stray slots
//! may be lit too as leave no doubt: fewer than would be missing from E at any other shift.
//!
//! What E is must be honest. While the operator sends a reference on purpose, it is that. Without
//! one, E is all that the file maps and L what was lit in the last 10 to 20 s: a picture that stays
//! inside its slots can then never look shifted, for no other shift is nearer than none at all.

use super::slot_set::SlotSet;

/// The farthest shift that leaves one of the 512 slots in the universe, in slots, either way.
pub const FARTHEST: i16 = 511;

/// Farther off, light that nobody sent on purpose may be that of other lamps (our choice, in slots).
const NEAR: u16 = 40;

/// With fewer mapped slots a stray lamp may look like the floor (our choice: eight RGB pixels).
const LEAST_MAPPED: u32 = 24;

/// What the comparison says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Nothing is lit.
    Dark,
    /// It is where it should be, all of it.
    Fits,
    /// It comes so many slots later than it should, earlier if negative.
    Shifted(i16),
    /// No shift is clearly the best, or some of it is missing where it should be.
    Unclear,
}

/// Compares what is lit with what should be.
pub fn compare(lit: SlotSet, expected: SlotSet) -> Verdict {
    if lit.is_empty() {
        return Verdict::Dark;
    }
    let sizes = lit.len() + expected.len();
    // No shift is nearer than this, and none is farther than all slots of both.
    if sizes < 3 * lit.len().abs_diff(expected.len()) + 2 {
        return Verdict::Unclear;
    }
    let missing = expected.without(lit);
    let (mut best, mut second, mut shift) = (u32::MAX, u32::MAX, 0);
    for by in -FARTHEST..=FARTHEST {
        let distance = sizes - 2 * expected.shared_with(lit, by);
        if distance < best {
            (second, best, shift) = (best, distance, by);
        } else if distance < second {
            second = distance;
        }
    }
    if second < 3 * best + 2 {
        Verdict::Unclear
    } else if shift != 0 {
        Verdict::Shifted(shift)
    } else if missing.is_empty() {
        Verdict::Fits
    } else {
        Verdict::Unclear
    }
}

/// The shift of a picture that nobody sent on purpose, if it has one for sure.
pub fn suspect(lit_lately: SlotSet, mapped: SlotSet) -> Option<i16> {
    if lit_lately.without(mapped).is_empty() || mapped.len() < LEAST_MAPPED {
        return None;
    }
    // For a shift to be clearly the best it must be three times nearer than none, and two slots more,
    // and none is nearer than the numbers of slots are.
    let unshifted = lit_lately.without(mapped).len() + mapped.without(lit_lately).len();
    if unshifted < 3 * lit_lately.len().abs_diff(mapped.len()) + 2 {
        return None;
    }
    // No other lamp lies on slots of the floor.
    let touches = !lit_lately.and(mapped).is_empty();
    match compare(lit_lately, mapped) {
        Verdict::Shifted(by) if touches || by.unsigned_abs() <= NEAR => Some(by),
        _ => None,
    }
}

#[cfg(test)]
mod tests;
