//! The frame of one universe, and what its node may be showing then.

use super::{CappedFrame, Counts, Limiter, OutIndex};
use crate::power::draw::{self, Scale};
use crate::power::room::{Rooms, Sums};
use crate::power::scale::Factors;
use crate::power::share::{Found, Share};
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
        if repeat {
            // Nobody else looks at one that is sent again and again.
            self.freed |= self.retire_one(out, now);
        }
        let (changed, as_asked) = self.write(out, arrived);
        let share = &mut self.shares[out as usize];
        if !changed && !repeat && share.held.ours() {
            return None;
        }
        if changed || !share.held.ours() {
            let Self {
                shares,
                tables,
                sums,
                counts,
                next,
                scratch,
                freed,
                ..
            } = self;
            let parts = &tables.outputs[out as usize].parts;
            change(&mut shares[out as usize], sums, counts, |share| {
                *freed |= share.held.retire(now);
                if as_asked {
                    share.push_asked(now, parts, arrived);
                } else {
                    share.push(now, next, scratch);
                }
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

    /// Finds the capped levels of one universe; says whether they differ from the last ones, and whether
    /// they are what is asked. Only if they are not, they are in `next`.
    fn write(&mut self, out: OutIndex, arrived: &[u8]) -> (bool, bool) {
        let Self {
            shares,
            tables,
            tree,
            scales,
            sums,
            levels,
            draws,
            next,
            scratch,
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
        let mut short = match share.find_factors(&factors, &rooms, scratch) {
            Found::AllOne => {
                counts.waiting -= usize::from(std::mem::take(&mut share.waiting));
                let newest = share.held.newest_content();
                return (!share.is_asked(&universe.parts, arrived, newest), true);
            }
            Found::Short => true,
            Found::Dimmed => false,
        };
        for &(from, to) in &share.gaps {
            next[usize::from(from)..usize::from(to)].fill(0);
        }
        loop {
            if share.factors.iter().all(|&factor| factor == Scale::ONE) {
                // As it is asked for, so its draw is known.
                Share::copy_asked(&share.gaps, &universe.parts, arrived, next);
                share.sent_is_asked(scratch);
            } else {
                draws.clear();
                for (part, &factor) in universe.parts.iter().zip(&share.factors) {
                    let pattern = &tables.patterns[usize::from(part.pattern)];
                    draws.push(draw::write_scaled(part, pattern, arrived, factor, next));
                }
                share.sum_sent(tree, draws, scratch);
            }
            if share.fits(&rooms, scratch) {
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
        (*next != *share.held.newest_content(), false)
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
    let crowded = u32::from(share.held.crowded());
    let silent = share.held.silent();
    let both = share.held.most().iter().zip(&*share.sent);
    for (&element, (&most, &sent)) in share.touched.iter().zip(both) {
        let sums = &mut sums[element as usize];
        sums.reserved -= most;
        sums.sent -= sent;
        sums.crowded -= crowded;
        if silent {
            sums.unreachable -= most;
        }
    }
    how(share);
    counts.unsettled += usize::from(unsettled(share));
    let crowded = u32::from(share.held.crowded());
    let silent = share.held.silent();
    let both = share.held.most().iter().zip(&*share.sent);
    for (&element, (&most, &sent)) in share.touched.iter().zip(both) {
        let sums = &mut sums[element as usize];
        sums.reserved += most;
        sums.sent += sent;
        sums.crowded += crowded;
        if silent {
            sums.unreachable += most;
        }
    }
}
