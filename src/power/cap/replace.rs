//! Another floor in the place of this one: what may be on show stays in the reckoning.

use std::collections::HashMap;
use std::sync::Arc;

use super::{Limiter, OutIndex};
use crate::floor::model::{Floor, Position};
use crate::power::held::Held;
use crate::power::tree::{ElementIndex, Tree};
use crate::units::Time;

impl Limiter {
    /// Takes over from the limiter of the floor before, with what is asked of this floor now.
    ///
    /// `same` gives, for each universe of this floor, the one of the floor before that leaves for
    /// the same Port-Address of the same node; what its node may be showing is reckoned with by
    /// what this floor says of those slots. Every other may be showing anything. What is left of
    /// `before` only takes time to be dropped.
    pub fn take_over(
        &mut self,
        floor: &Floor,
        before: &mut Self,
        floor_before: &Floor,
        same: &[Option<OutIndex>],
        arrived: &[u8],
        now: Time,
    ) {
        let tables = Arc::clone(&self.tables);
        let peaks = self.passing.has_peaks();
        let pairs = same_elements((&self.tree, floor), (&before.tree, floor_before));
        let mut element_before = vec![None; self.tree.elements.len()];
        for &(here, there) in &pairs {
            element_before[here as usize] = Some(there);
        }
        for (out, was) in (0..).zip(same) {
            let Some(was) = *was else { continue };
            let universe = &tables.outputs[out as usize];
            let universe_before = &before.tables.outputs[was as usize];
            let share_before = &before.shares[was as usize];
            let share = &mut self.shares[out as usize];
            let here = (universe, &*tables, &self.tree);
            let there = (universe_before, &*before.tables, &before.tree);
            let alike = share.is_wired_like(here, share_before, there, &element_before);
            let held_before = before.shares[was as usize].take_held();
            let held = if alike {
                Held::carried_as_it_is(held_before, floor.delivery)
            } else {
                let slots = universe_before.slots;
                let shorter = (slots < universe.slots).then_some(slots);
                share.carried(held_before, shorter, floor.delivery, here)
            };
            self.change_held(out, |share| {
                share.sent = held.newest().into();
                share.held = held;
                share.held.keep_apart(peaks);
            });
        }
        for &(here, there) in &pairs {
            self.tree.elements[here as usize].live = before.live_limit(there);
        }
        self.take_over_passing(before, &pairs, now);
        self.scales.take_over(&before.scales, pairs.iter().copied());
        // All at once: while some had not asked yet, factors would fall that need not.
        for (out, universe) in (0..).zip(&tables.outputs) {
            self.shares[out as usize].ask(universe, &tables, &self.tree, arrived);
            self.update_demand(out);
        }
        self.settle();
    }
}

/// Elements of the same name on two floors: here, there.
fn same_elements(
    (here, floor): (&Tree, &Floor),
    (there, floor_before): (&Tree, &Floor),
) -> Vec<(ElementIndex, ElementIndex)> {
    let known: HashMap<_, _> = named(there, floor_before).into_iter().collect();
    let elements = named(here, floor).into_iter();
    elements
        .filter_map(|(name, element)| Some((element, *known.get(&name)?)))
        .collect()
}

/// What an element is called, and no other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Called<'a> {
    Panel(Position),
    Feed(&'a str),
    Supply(&'a str),
    Circuit(&'a str),
    Floor,
}

fn named<'a>(tree: &Tree, floor: &'a Floor) -> Vec<(Called<'a>, ElementIndex)> {
    let mut all = Vec::with_capacity(tree.elements.len());
    for (at, panel) in floor.panels.iter().enumerate() {
        all.push((Called::Panel(panel.position), tree.panel(at)));
    }
    for (at, feed) in floor.feeds.iter().enumerate() {
        all.push((Called::Feed(&feed.name), tree.feed(at)));
    }
    for (at, supply) in floor.supplies.iter().enumerate() {
        all.push((Called::Supply(&supply.name), tree.supply(at)));
    }
    for (at, circuit) in floor.circuits.iter().enumerate() {
        all.push((Called::Circuit(&circuit.name), tree.circuit(at)));
    }
    all.push((Called::Floor, tree.floor()));
    all
}
