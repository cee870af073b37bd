//! The frame of one universe, and what its node may be showing then.

use std::sync::Arc;

use super::{CappedFrame, Limiter, OutIndex};
use crate::floor::tables::UNIVERSE_SLOTS;
use crate::power::draw::{self, Scale};
use crate::power::held::Content;
use crate::power::room::Rooms;
use crate::power::scale::Factors;
use crate::power::share::Share;
use crate::units::Time;

impl Limiter {
    /// Makes the frame of one universe from what it asks, its factors and the headroom that is
    /// left by what every other universe may be drawing, and reckons with it from now on. Nothing
    /// if it is the same as the last one, unless `repeat`. When it has left, say so with
    /// [`Self::left`].
    pub fn frame(
        &mut self,
        out: OutIndex,
        arrived: &[u8],
        now: Time,
        repeat: bool,
    ) -> Option<CappedFrame<'_>> {
        self.fell.remove(out);
        self.rose.remove(out);
        self.pass(now);
        let changed = self.write(out, arrived);
        let share = &mut self.shares[out as usize];
        if !changed && !repeat && share.held.ours() {
            return None;
        }
        if changed || !share.held.ours() {
            let content = self.content(out, arrived);
            self.change_held(out, |share| share.push(now, &content));
            self.pass(now);
            self.update_demand(out);
            self.settle();
        }
        let slots = usize::from(self.tables.outputs[out as usize].slots);
        Some(CappedFrame {
            output: out,
            slots: &self.leaving[out as usize * UNIVERSE_SLOTS..][..slots],
        })
    }

    /// The newest frame of a universe has left.
    pub fn left(&mut self, out: OutIndex, now: Time) {
        self.shares[out as usize].held.left(now);
    }

    /// What leaves now of one universe, and what was asked for at the same places.
    fn content(&self, out: OutIndex, arrived: &[u8]) -> Content {
        let mut content = Content::DARK;
        content.sent.copy_from_slice(self.leaving(out));
        for part in &self.tables.outputs[out as usize].parts {
            let place = usize::from(part.dst)..usize::from(part.dst + part.len);
            content.asked[place].copy_from_slice(draw::source(part, arrived));
        }
        content
    }

    /// Writes the capped levels of one universe; says whether they differ from the last ones.
    fn write(&mut self, out: OutIndex, arrived: &[u8]) -> bool {
        let tables = Arc::clone(&self.tables);
        let universe = &tables.outputs[out as usize];
        let mut next = [0; UNIVERSE_SLOTS];
        let Self {
            shares,
            tree,
            scales,
            reserved,
            sent,
            ceiling,
            demand,
            levels,
            draws,
            ..
        } = self;
        let share = &mut shares[out as usize];
        let rooms = Rooms {
            elements: &tree.elements,
            reserved,
            sent,
            ceiling,
            demand,
        };
        let factors = Factors {
            tree,
            scales,
            levels,
        };
        let mut short = share.find_factors(&factors, &rooms);
        loop {
            draws.clear();
            for (part, &factor) in universe.parts.iter().zip(&share.factors) {
                let pattern = &tables.patterns[usize::from(part.pattern)];
                draws.push(draw::write_scaled(
                    part, pattern, arrived, factor, &mut next,
                ));
            }
            share.sum_sent(tree, draws);
            if share.fits(&rooms) {
                break;
            }
            // Levels are rounded down, so the first try fits. Should that ever be wrong, this
            // ends in black rather than over a limit.
            short = true;
            for factor in &mut share.factors {
                *factor = factor.then(Scale(Scale::ONE.0 / 2));
            }
        }
        share.waiting = short;
        let last = &mut self.leaving[out as usize * UNIVERSE_SLOTS..][..UNIVERSE_SLOTS];
        let changed = *last != next;
        last.copy_from_slice(&next);
        changed
    }

    /// Changes what a universe's node may be showing and keeps the sums.
    pub(super) fn change_held(&mut self, out: OutIndex, change: impl FnOnce(&mut Share)) {
        let share = &mut self.shares[out as usize];
        for (at, &element) in share.touched.iter().enumerate() {
            let most = share.held.most()[at];
            self.reserved[element as usize] -= most;
            self.sent[element as usize] -= share.sent[at];
            self.crowded[element as usize] -= u32::from(share.held.crowded());
            if share.held.silent() {
                self.unreachable[element as usize] -= most;
            }
        }
        change(share);
        for (at, &element) in share.touched.iter().enumerate() {
            let most = share.held.most()[at];
            self.reserved[element as usize] += most;
            self.sent[element as usize] += share.sent[at];
            self.crowded[element as usize] += u32::from(share.held.crowded());
            if share.held.silent() {
                self.unreachable[element as usize] += most;
            }
        }
    }
}
