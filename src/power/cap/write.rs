//! The frame of one universe, and what its node may be showing then.

use super::{CappedFrame, Counts, Limiter, OutIndex};
use crate::power::draw::{self, Scale};
use crate::power::room::{Rooms, Sums};
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
            let Self {
                shares,
                sums,
                counts,
                next,
                freed,
                ..
            } = self;
            change(&mut shares[out as usize], sums, counts, |share| {
                *freed |= share.held.retire(now);
                share.push(now, next);
            });
            self.pass(now);
            self.update_demand(out);
            self.settle();
        }
        let slots = usize::from(self.tables.outputs[out as usize].slots);
        Some(CappedFrame {
            output: out,
            slots: &self.leaving(out)[..slots],
        })
    }

    /// The newest frame of a universe has left.
    pub fn left(&mut self, out: OutIndex, now: Time) {
        self.shares[out as usize].held.left(now);
    }

    /// The system did not take some of the frames that have left for a universe's node.
    pub fn refused(&mut self, out: OutIndex) {
        self.shares[out as usize].held.refused();
    }

    /// Writes the capped levels of one universe; says whether they differ from the last ones.
    fn write(&mut self, out: OutIndex, arrived: &[u8]) -> bool {
        let Self {
            shares,
            tables,
            tree,
            scales,
            sums,
            levels,
            draws,
            next,
            counts,
            ..
        } = self;
        let universe = &tables.outputs[out as usize];
        let share = &mut shares[out as usize];
        let rooms = Rooms {
            elements: &tree.elements,
            sums,
        };
        let factors = Factors {
            tree,
            scales,
            levels,
        };
        let mut short = share.find_factors(&factors, &rooms);
        next.fill(0);
        loop {
            if share.factors.iter().all(|&factor| factor == Scale::ONE) {
                // As it is asked for, so its draw is known.
                for part in &universe.parts {
                    let target = &mut next[usize::from(part.dst)..][..usize::from(part.len)];
                    target.copy_from_slice(draw::source(part, arrived));
                }
                share.sent_is_asked();
            } else {
                draws.clear();
                for (part, &factor) in universe.parts.iter().zip(&share.factors) {
                    let pattern = &tables.patterns[usize::from(part.pattern)];
                    draws.push(draw::write_scaled(part, pattern, arrived, factor, next));
                }
                share.sum_sent(tree, draws);
            }
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
        counts.waiting -= usize::from(share.waiting);
        counts.waiting += usize::from(short);
        share.waiting = short;
        *next != *share.held.newest_content()
    }

    /// Changes what a universe's node may be showing and keeps the sums.
    pub(super) fn change_held(&mut self, out: OutIndex, how: impl FnOnce(&mut Share)) {
        let Self {
            shares,
            sums,
            counts,
            ..
        } = self;
        change(&mut shares[out as usize], sums, counts, how);
    }
}

/// Changes what a universe's node may be showing and keeps the sums.
fn change(share: &mut Share, sums: &mut [Sums], counts: &mut Counts, how: impl FnOnce(&mut Share)) {
    let unsettled = |share: &Share| !share.held.settled() && !share.held.silent();
    counts.unsettled -= usize::from(unsettled(share));
    for (at, &element) in share.touched.iter().enumerate() {
        let sums = &mut sums[element as usize];
        let most = share.held.most()[at];
        sums.reserved -= most;
        sums.sent -= share.sent[at];
        sums.crowded -= u32::from(share.held.crowded());
        if share.held.silent() {
            sums.unreachable -= most;
        }
    }
    how(share);
    counts.unsettled += usize::from(unsettled(share));
    for (at, &element) in share.touched.iter().enumerate() {
        let sums = &mut sums[element as usize];
        let most = share.held.most()[at];
        sums.reserved += most;
        sums.sent += share.sent[at];
        sums.crowded += u32::from(share.held.crowded());
        if share.held.silent() {
            sums.unreachable += most;
        }
    }
}
