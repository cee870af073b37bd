//! Another floor in the place of this one: what may be on show stays in the reckoning.

use std::collections::HashMap;
use std::sync::Arc;

use super::{Limiter, OutIndex};
use crate::floor::model::Floor;
use crate::power::tree::{ElementIndex, Tree};
use crate::units::Time;

impl Limiter {
    /// Takes over from the limiter of the floor before, with what is asked of this floor now.
    ///
    /// `same` gives, for each universe of this floor, the one of the floor before that leaves for
    /// the same Port-Address of the same node; what its node may be showing is reckoned with by
    /// what this floor says of those slots. Every other may be showing anything.
    pub fn take_over(
        &mut self,
        floor: &Floor,
        before: &Self,
        floor_before: &Floor,
        same: &[Option<OutIndex>],
        arrived: &[u8],
        now: Time,
    ) {
        let tables = Arc::clone(&self.tables);
        let peaks = self.passing.has_peaks();
        for (out, was) in (0..).zip(same) {
            let Some(was) = *was else { continue };
            let universe = &tables.outputs[out as usize];
            let slots = usize::from(before.tables.outputs[was as usize].slots);
            let shorter = (slots < usize::from(universe.slots)).then_some(slots);
            let held = self.shares[out as usize].carried(
                &before.shares[was as usize].held,
                shorter,
                floor.delivery,
                (universe, &tables, &self.tree),
            );
            self.change_held(out, |share| {
                share.sent = held.newest().into();
                share.held = held;
                share.held.keep_apart(peaks);
            });
        }
        let pairs = same_elements((&self.tree, floor), (&before.tree, floor_before));
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

/// Every element with its level and its name, which no other of that level has.
fn named(tree: &Tree, floor: &Floor) -> Vec<((u8, String), ElementIndex)> {
    let mut all = Vec::new();
    for (at, panel) in floor.panels.iter().enumerate() {
        all.push(((0, panel.position.to_string()), tree.panel(at)));
    }
    for (at, feed) in floor.feeds.iter().enumerate() {
        all.push(((1, feed.name.clone()), tree.feed(at)));
    }
    for (at, supply) in floor.supplies.iter().enumerate() {
        all.push(((2, supply.name.clone()), tree.supply(at)));
    }
    for (at, circuit) in floor.circuits.iter().enumerate() {
        all.push(((3, circuit.name.clone()), tree.circuit(at)));
    }
    all.push(((4, String::new()), tree.floor()));
    all
}
