//! What the floor is asked to show: the merged slots of all universes, faded where the signal
//! is lost and the floor file wants it, under the test pattern if one is shown.
//!
//! What arrives lies by universes that arrive; what is asked lies by universes that leave, so
//! that a pattern lights one panel alone even where two nodes show one universe.

use std::sync::Arc;

use crate::floor::model::{Signal, WhenLost};
use crate::floor::tables::{Part, Pattern, Tables, UNIVERSE_SLOTS};
use crate::pattern::Show;
use crate::power::cap::OutIndex;
use crate::power::draw::{self, Scale};
use crate::power::near::lines;
use crate::power::pixel_limit;
use crate::units::Time;

/// The slots that are asked for, 512 for each universe that leaves.
#[derive(Debug)]
pub(super) struct Picture {
    /// Their parts read what arrives.
    tables: Arc<Tables>,
    signal: Signal,
    /// As the sources sent it, 512 for each universe that arrives.
    whole: Vec<u8>,
    faded: Vec<Scale>,
    /// What the sources ask, after fading, and each pixel within the limit of its kind, with the
    /// pattern laid over it.
    asked: Vec<u8>,
    /// For each panel whether a pattern covers it.
    covered: Vec<bool>,
}

/// `tables` whose parts read what is asked: the slots that leave, 512 for each universe.
pub(super) fn leaving_tables(tables: &Tables) -> Tables {
    let mut tables = tables.clone();
    for (first, universe) in (0_u32..).step_by(UNIVERSE_SLOTS).zip(&mut tables.outputs) {
        for part in &mut universe.parts {
            part.src = first + u32::from(part.dst);
        }
    }
    tables
}

impl Picture {
    pub(super) fn new(tables: Arc<Tables>, signal: Signal) -> Self {
        let leaving = tables.outputs.len() * UNIVERSE_SLOTS;
        Self {
            faded: vec![Scale::ONE; tables.universes.len()],
            whole: vec![0; tables.universes.len() * UNIVERSE_SLOTS],
            asked: vec![0; leaving],
            covered: vec![false; tables.panels.len()],
            tables,
            signal,
        }
    }

    /// All slots, as the parts of [`leaving_tables`] read them.
    pub(super) fn asked(&self) -> &[u8] {
        &self.asked
    }

    /// Reads what is needed to show another frame of a universe that arrives …
    pub(super) fn near(&self, universe: usize) -> u8 {
        lines(self.whole(universe))
    }

    /// … and to ask for one that leaves.
    pub(super) fn near_asked(&self, out: OutIndex) -> u8 {
        let part = self.tables.outputs[out as usize].parts.first();
        let slots = &self.asked[out as usize * UNIVERSE_SLOTS..][..UNIVERSE_SLOTS];
        lines(slots) ^ part.map_or(0, |part| u8::from(part.len > 1))
    }

    /// The tables as the floor was compiled to.
    pub(super) fn tables(&self) -> &Tables {
        &self.tables
    }

    /// What is shown of one universe that arrives, before any fade.
    pub(super) fn whole(&self, universe: usize) -> &[u8; UNIVERSE_SLOTS] {
        let (universes, _) = self.whole.as_chunks();
        &universes[universe]
    }

    /// Takes the merged slots of one universe, which has just arrived; says whether anything
    /// that is asked for changed.
    pub(super) fn set(&mut self, universe: usize, merged: &[u8; UNIVERSE_SLOTS]) -> bool {
        let whole = &mut self.whole[universe * UNIVERSE_SLOTS..][..UNIVERSE_SLOTS];
        let faded = std::mem::replace(&mut self.faded[universe], Scale::ONE);
        if faded == Scale::ONE && whole == merged {
            return false;
        }
        whole.copy_from_slice(merged);
        self.scale(universe, Scale::ONE)
    }

    /// Whether a universe is shown darker than it was sent.
    pub(super) fn is_faded(&self, universe: usize) -> bool {
        self.faded[universe] != Scale::ONE
    }

    /// Whether a universe last seen at `at` is lost.
    pub(super) fn is_lost(&self, at: Time, now: Time) -> bool {
        now.s_since(at) > self.signal.lost_after_s
    }

    /// Fades one universe that was last seen at `at`, if it is lost and the file wants it.
    /// Says whether anything that is asked for changed.
    pub(super) fn fade(&mut self, universe: usize, at: Time, now: Time) -> bool {
        let WhenLost::Fade { s } = self.signal.when_lost else {
            return false;
        };
        let gone_s = now.s_since(at) - self.signal.lost_after_s;
        if gone_s <= 0.0 {
            return false;
        }
        let left = if s > 0.0 {
            (1.0 - gone_s / s).clamp(0.0, 1.0)
        } else {
            0.0
        };
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "0 to 65,536"
        )]
        let scale = Scale((left * 65_536.0) as u32);
        if scale == self.faded[universe] {
            return false;
        }
        self.faded[universe] = scale;
        self.scale(universe, scale)
    }

    /// Writes what a universe that arrived asks, times `scale`; says whether anything that is
    /// asked for changed.
    fn scale(&mut self, universe: usize, scale: Scale) -> bool {
        let Self {
            tables,
            whole,
            asked,
            covered,
            ..
        } = self;
        let mut changed = false;
        for &out in &tables.universes[universe].outputs {
            let first = out as usize * UNIVERSE_SLOTS;
            let asked = &mut asked[first..first + UNIVERSE_SLOTS];
            for part in &tables.outputs[out as usize].parts {
                if part.src as usize / UNIVERSE_SLOTS != universe || covered[part.panel as usize] {
                    continue;
                }
                let place = usize::from(part.dst)..usize::from(part.dst + part.len);
                let pattern = &tables.patterns[usize::from(part.pattern)];
                if scale == Scale::ONE && pattern.room.is_none() {
                    let next = draw::source(part, whole);
                    changed |= asked[place.clone()] != *next;
                    asked[place].copy_from_slice(next);
                    continue;
                }
                let mut next = [0; UNIVERSE_SLOTS];
                write_held(part, pattern, whole, scale, &mut next);
                changed |= asked[place.clone()] != next[place.clone()];
                asked[place.clone()].copy_from_slice(&next[place]);
            }
        }
        changed
    }

    /// What the sources ask of a universe that leaves.
    fn console(&self, out: usize) -> [u8; UNIVERSE_SLOTS] {
        let mut slots = [0; UNIVERSE_SLOTS];
        for part in &self.tables.outputs[out].parts {
            let pattern = &self.tables.patterns[usize::from(part.pattern)];
            let scale = self.faded[part.src as usize / UNIVERSE_SLOTS];
            write_held(part, pattern, &self.whole, scale, &mut slots);
        }
        slots
    }

    /// Whether a fade is under way or has yet to begin for a universe last seen at `at`.
    pub(super) fn is_fading(&self, universe: usize, at: Time, now: Time) -> bool {
        matches!(self.signal.when_lost, WhenLost::Fade { .. })
            && self.is_lost(at, now)
            && self.faded[universe] > Scale::ZERO
    }

    /// Lays a pattern over what the sources ask, as it is `ms` milliseconds after its begin;
    /// without one that shows again. Gives the universes for which anything changed.
    pub(super) fn lay(&mut self, show: Option<&Show>, ms: u64) -> Vec<OutIndex> {
        for (panel, covered) in self.covered.iter_mut().enumerate() {
            *covered = show.is_some_and(|show| show.covers(panel));
        }
        let pattern = show.map(|show| (show, show.lit(ms)));
        let mut changed = Vec::new();
        for out in 0..self.tables.outputs.len() {
            let mut next = self.console(out);
            if let Some((show, lit)) = &pattern {
                show.paint(&self.tables, lit, ms, out, &mut next);
                for part in &self.tables.outputs[out].parts {
                    let pattern = &self.tables.patterns[usize::from(part.pattern)];
                    pixel_limit::hold(part, pattern, &mut next);
                }
            }
            let asked = &mut self.asked[out * UNIVERSE_SLOTS..][..UNIVERSE_SLOTS];
            if *asked != next {
                asked.copy_from_slice(&next);
                changed.push(OutIndex::try_from(out).unwrap_or(OutIndex::MAX));
            }
        }
        changed
    }
}

/// Writes what one part asks, times `scale`, and each pixel within the limit of its kind.
fn write_held(part: &Part, pattern: &Pattern, whole: &[u8], scale: Scale, universe: &mut [u8]) {
    draw::scale_into(part, pattern, whole, scale, universe);
    pixel_limit::hold(part, pattern, universe);
}
