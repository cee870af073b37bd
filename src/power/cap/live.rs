//! Limits that are set while the floor runs.

use super::Limiter;
use crate::power::tree::ElementIndex;
use crate::units::Draw;

impl Limiter {
    /// Sets the live limit of an element, idle included, or takes it away. It can only lower the
    /// limit of the floor file. Factors fall at once, and are let up smoothly when it rises; the
    /// universes that this dims are those of [`Self::next_fallen`].
    pub fn set_live_limit(&mut self, element: ElementIndex, limit: Option<Draw>) {
        self.tree.elements[element as usize].live = limit;
        self.touch(element);
        self.settle();
    }

    /// Sets all live limits to those of a limiter for the same floor.
    pub fn keep_live_limits(&mut self, before: &Self) {
        for element in 0..before.tree.elements.len() {
            self.tree.elements[element].live = before.tree.elements[element].live;
        }
        for element in (0..).take(self.tree.elements.len()) {
            self.touch(element);
        }
        self.settle();
    }

    /// The live limit of an element.
    pub fn live_limit(&self, element: ElementIndex) -> Option<Draw> {
        self.tree.elements[element as usize].live
    }
}
