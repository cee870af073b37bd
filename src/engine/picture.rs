//! What the floor is asked to show: the merged slots of all universes, faded where the signal
//! is lost and the floor file wants it.

use std::sync::Arc;

use crate::floor::model::{Signal, WhenLost};
use crate::floor::tables::{Tables, UNIVERSE_SLOTS};
use crate::power::draw::{self, Scale};
use crate::units::Time;

/// The slots that are asked for, 512 for each arriving universe.
#[derive(Debug)]
pub(super) struct Picture {
    tables: Arc<Tables>,
    signal: Signal,
    /// As the sources sent it.
    whole: Vec<u8>,
    /// After fading.
    asked: Vec<u8>,
    faded: Vec<Scale>,
}

impl Picture {
    pub(super) fn new(tables: Arc<Tables>, signal: Signal) -> Self {
        let slots = tables.universes.len() * UNIVERSE_SLOTS;
        Self {
            faded: vec![Scale::ONE; tables.universes.len()],
            whole: vec![0; slots],
            asked: vec![0; slots],
            tables,
            signal,
        }
    }

    /// All slots.
    pub(super) fn asked(&self) -> &[u8] {
        &self.asked
    }

    /// Takes the merged slots of one universe, which has just arrived; says whether anything
    /// that is asked for changed.
    pub(super) fn set(&mut self, universe: usize, merged: &[u8; UNIVERSE_SLOTS]) -> bool {
        let range = universe * UNIVERSE_SLOTS..(universe + 1) * UNIVERSE_SLOTS;
        self.faded[universe] = Scale::ONE;
        if self.asked[range.clone()] == *merged {
            self.whole[range].copy_from_slice(merged);
            return false;
        }
        self.whole[range.clone()].copy_from_slice(merged);
        self.asked[range].copy_from_slice(merged);
        true
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
        let tables = Arc::clone(&self.tables);
        let first = universe * UNIVERSE_SLOTS;
        for &out in &tables.universes[universe].outputs {
            for part in &tables.outputs[out as usize].parts {
                let Some(at) = (part.src as usize).checked_sub(first) else {
                    continue;
                };
                let Ok(dst) = u16::try_from(at) else { continue };
                if at >= UNIVERSE_SLOTS {
                    continue;
                }
                let pattern = &tables.patterns[usize::from(part.pattern)];
                let here = crate::floor::tables::Part { dst, ..*part };
                let target = &mut self.asked[first..first + UNIVERSE_SLOTS];
                draw::write_scaled(&here, pattern, &self.whole, scale, target);
            }
        }
        true
    }

    /// Whether a fade is under way or has yet to begin for a universe last seen at `at`.
    pub(super) fn is_fading(&self, universe: usize, at: Time, now: Time) -> bool {
        matches!(self.signal.when_lost, WhenLost::Fade { .. })
            && self.is_lost(at, now)
            && self.faded[universe] > Scale::ZERO
    }
}
