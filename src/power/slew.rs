//! How fast the draw of an element may rise.
//!
//! The rule: let S(t) be what the newest frames of all universes draw at the element. For every
//! two moments t1 < t2, S(t2) − S(t1) ≤ slew × (t2 − t1 + [`STEP_S`]). So a supply never sees a
//! step of more than what the slew allows in that time, also not from the dark, and falls are free.
//! It is kept as a ceiling that rises with the slew and never stands higher than one step over S.

use super::tree::ElementIndex;
use crate::units::{Amps, Draw, Time};

/// So many seconds of the slew may come in one step (our choice: some four frames of a console).
pub const STEP_S: f64 = 0.1;

/// The ceiling of one element.
#[derive(Debug, Clone)]
pub(super) struct Ramp {
    pub(super) element: ElementIndex,
    a_second: Draw,
    step: Draw,
    at: Time,
}

impl Ramp {
    pub(super) fn new(element: ElementIndex, slew_a_per_s: f64, now: Time) -> Self {
        Self {
            element,
            a_second: Draw::limit(Amps(slew_a_per_s)),
            step: Draw::limit(Amps(slew_a_per_s * STEP_S)),
            at: now,
        }
    }

    /// Where the ceiling stands now that it stood at `before`, and the newest frames have drawn
    /// `sent` since then.
    pub(super) fn pass(&mut self, before: Draw, sent: Draw, now: Time) -> Draw {
        let us = u128::from(now.us_since(self.at));
        self.at = now.max(self.at);
        let risen = u128::from(before.0) + u128::from(self.a_second.0) * us / 1_000_000;
        Draw(u64::try_from(risen).unwrap_or(u64::MAX)).min(sent + self.step)
    }

    /// The ceiling rises from now on.
    pub(super) fn begin(&mut self, now: Time) {
        self.at = now;
    }

    /// Where the ceiling stands at most.
    pub(super) fn above(&self, sent: Draw) -> Draw {
        sent + self.step
    }
}
