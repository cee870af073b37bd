//! What is asked of every element, and the factor that this takes.

use std::cmp::Reverse;

use super::{Limiter, OutIndex};
use crate::units::Draw;

impl Limiter {
    /// Takes what a universe asked out of the demand, and what it asks now in.
    pub(super) fn update_demand(&mut self, out: OutIndex) {
        let share = &mut self.shares[out as usize];
        for (at, &element) in share.touched.iter().enumerate() {
            let demand = &mut self.demand[element as usize];
            demand.peak -= share.peak[at];
            demand.newest -= share.newest[at];
        }
        if share.held.silent() {
            share.peak.fill(Draw::ZERO);
            share.newest.fill(Draw::ZERO);
        } else {
            share.find_peaks(&self.tree, &self.scales);
        }
        for (at, &element) in share.touched.iter().enumerate() {
            let demand = &mut self.demand[element as usize];
            demand.peak += share.peak[at];
            demand.newest += share.newest[at];
            self.dirty.push(Reverse(element));
        }
    }

    /// Finds the factors of all elements whose demand changed, from below.
    pub(super) fn settle(&mut self) {
        while let Some(Reverse(element)) = self.dirty.pop() {
            while self.dirty.peek() == Some(&Reverse(element)) {
                self.dirty.pop();
            }
            let index = element as usize;
            let room = self.tree.elements[index]
                .room()
                .less(self.unreachable[index]);
            let moved = self.scales.set_demand(element, self.demand[index], room);
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
    }
}
