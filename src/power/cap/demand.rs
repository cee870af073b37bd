//! What is asked of every element, and the factor that this takes.

use std::cmp::Reverse;

use super::{Limiter, OutIndex};
use crate::power::draw::Scale;
use crate::power::scale::{Factors, aim_of};
use crate::power::tree::ElementIndex;
use crate::units::Draw;

impl Limiter {
    /// The factor of an element has to be found anew.
    pub(super) fn touch(&mut self, element: ElementIndex) {
        self.dirty.push(Reverse(element));
        self.levels.touch(element);
    }

    /// Takes what a universe asked out of the demand, and what it asks now in.
    pub(super) fn update_demand(&mut self, out: OutIndex) {
        let factors = Factors {
            tree: &self.tree,
            scales: &self.scales,
            levels: &self.levels,
        };
        if factors.are_one() {
            self.update_whole(out);
            return;
        }
        let share = &mut self.shares[out as usize];
        for (at, &element) in share.touched.iter().enumerate() {
            let demand = &mut self.sums[element as usize].demand;
            demand.peak -= share.peak[at];
            demand.newest -= share.newest[at];
        }
        if share.held.silent() {
            share.peak.fill(Draw::ZERO);
            share.newest.fill(Draw::ZERO);
        } else {
            share.find_peaks(&factors, &mut self.scratch);
        }
        for (at, &element) in share.touched.iter().enumerate() {
            let demand = &mut self.sums[element as usize].demand;
            demand.peak += share.peak[at];
            demand.newest += share.newest[at];
            self.dirty.push(Reverse(element));
            self.levels.touch(element);
        }
    }

    /// The same while nothing is dimmed: what carries all that is asked moves nothing else.
    fn update_whole(&mut self, out: OutIndex) {
        let share = &mut self.shares[out as usize];
        let silent = share.held.silent();
        let asks = share.asked.iter().zip(share.held.most_asked());
        let known = share.newest.iter_mut().zip(&mut *share.peak);
        for ((&element, (&asked, &most_asked)), known) in share.touched.iter().zip(asks).zip(known)
        {
            let (newest, peak) = if silent {
                (Draw::ZERO, Draw::ZERO)
            } else {
                (asked, most_asked.max(asked))
            };
            let newest_before = std::mem::replace(known.0, newest);
            let peak_before = std::mem::replace(known.1, peak);
            let sums = &mut self.sums[element as usize];
            sums.demand.newest -= newest_before;
            sums.demand.newest += newest;
            sums.demand.peak -= peak_before;
            sums.demand.peak += peak;
            let own = &self.tree.elements[element as usize];
            if sums.demand.newest <= own.lasting_room().less(sums.unreachable)
                && sums.demand.peak <= own.room().less(sums.unreachable)
            {
                sums.over = false;
            } else {
                self.dirty.push(Reverse(element));
            }
        }
    }

    /// Finds the factors of all elements whose demand changed, from below: panels, then the levels
    /// that panels share, then what is above.
    pub(super) fn settle(&mut self) {
        let panels = self.tables.panels.len();
        loop {
            let next = self.dirty.peek().map(|&Reverse(element)| element as usize);
            if next.is_none_or(|next| next >= panels)
                && let Some(basin) = self.levels.next_dirty()
            {
                self.settle_level(basin);
                continue;
            }
            let Some(Reverse(element)) = self.dirty.pop() else {
                return;
            };
            while self.dirty.peek() == Some(&Reverse(element)) {
                self.dirty.pop();
            }
            if !self.levels.is_level(&self.tree, element) {
                self.settle_element(element);
            }
        }
    }

    fn settle_element(&mut self, element: ElementIndex) {
        let index = element as usize;
        let own = &self.tree.elements[index];
        let (room, lasting) = (own.room(), own.lasting_room());
        let sums = &mut self.sums[index];
        let (silent, demand) = (sums.unreachable, sums.demand);
        sums.over = demand.newest > lasting.less(silent);
        let moved = self.scales.set_demand(element, demand, room.less(silent));
        // The aim of an element at the top is nobody's demand.
        let seen_above = moved.aim && self.tree.elements[index].parent.is_some();
        for at in 0..self.touching[index].len() {
            let out = self.touching[index][at];
            if moved.fell {
                self.fell.add(out);
            }
            if moved.returned {
                self.rose.add(out);
            }
            if seen_above {
                self.update_demand(out);
            }
        }
    }

    /// Finds the level of a supply's panels, and the factor of each that it makes.
    fn settle_level(&mut self, basin: usize) {
        let of = &self.levels.basins[basin];
        let supply = of.supply;
        let room = |element: ElementIndex| {
            let room = self.tree.elements[element as usize].room();
            room.less(self.sums[element as usize].unreachable)
        };
        let demand = |panel: ElementIndex| self.sums[panel as usize].demand;
        let newest = |panel| self.scales.aim(panel).of(demand(panel).newest);
        let peak = |panel| self.scales.aim(panel).of(demand(panel).peak);
        let lasting = self.tree.elements[supply as usize].lasting_room();
        let unlevelled = of.carried(of.level(Scale::ONE), newest, room);
        let unreachable = self.sums[supply as usize].unreachable;
        let over = unlevelled > lasting.less(unreachable);
        let aim = aim_of(of.fill(newest, room), || of.fill(peak, room));
        self.sums[supply as usize].over = over;
        let moved = self.scales.set_aim(supply, aim);
        let aimed = self.level_factors(basin, aim);
        let mut seen_above = Vec::new();
        for (panel, factor) in aimed {
            let before = std::mem::replace(&mut self.levels.aim[panel as usize], factor);
            if before != factor {
                seen_above.extend_from_slice(&self.touching[panel as usize]);
            }
        }
        self.follow_level(basin);
        if moved.returned {
            for &out in &self.touching[supply as usize] {
                self.rose.add(out);
            }
        }
        seen_above.sort_unstable();
        seen_above.dedup();
        for out in seen_above {
            self.update_demand(out);
        }
        // The level goes by what panels ask, which it does not change itself.
        self.levels.found(basin);
    }

    /// The factor that each panel of a basin gets from a level.
    fn level_factors(&self, basin: usize, level: Scale) -> Vec<(ElementIndex, Scale)> {
        let of = &self.levels.basins[basin];
        let level = of.level(level);
        let factor = |panel: ElementIndex| {
            let asked = self.sums[panel as usize].demand.newest;
            (
                panel,
                Scale::to_fit(self.scales.aim(panel).of(asked), level),
            )
        };
        of.panels().map(factor).collect()
    }

    /// Finds the factors of a basin's panels for its level of the moment.
    pub(super) fn follow_level(&mut self, basin: usize) {
        let level = self.scales.of(self.levels.basins[basin].supply);
        for (panel, factor) in self.level_factors(basin, level) {
            let before = std::mem::replace(&mut self.levels.now[panel as usize], factor);
            for &out in &self.touching[panel as usize] {
                if factor < before {
                    self.fell.add(out);
                } else if factor > before {
                    self.rose.add(out);
                }
            }
        }
    }
}
