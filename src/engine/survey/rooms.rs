//! Where items hang in the tree: which sensors see them, and what they may draw together.

use super::items::Items;
use crate::health::survey::Room;
use crate::power::tree::{ElementIndex, Ratio, Tree};
use crate::units::{Amps, Draw};

/// So much of a room is used, lest rounding makes the cap dim a light by a hair.
const USED: f64 = 0.98;

/// Items whose amperes count differently at a sensor's place can't be added up as one kind.
const ALIKE: f64 = 0.01;

fn amps_for_one(ratio: Ratio) -> f64 {
    ratio.of(Draw::limit(Amps(1e3))).amps().0 / 1e3
}

/// Amperes at `element` for one ampere of a panel; nothing if it does not hang there.
fn factor(tree: &Tree, panel: u32, element: ElementIndex) -> Option<f64> {
    let mut factor = 1.0;
    for at in tree.path(panel) {
        if at == element {
            return Some(factor);
        }
        factor *= amps_for_one(tree.elements[at as usize].to_parent);
    }
    None
}

/// The one factor of all items that a place sees; nothing if it sees none.
///
/// # Errors
/// When their amperes count differently there.
pub(super) fn seen_at(
    tree: &Tree,
    items: &Items,
    element: ElementIndex,
) -> Result<Option<f64>, &'static str> {
    let mut least: Option<f64> = None;
    let mut most = 0.0_f64;
    let mut panel_before = None;
    for item in &items.all {
        if panel_before.replace(item.panel) == Some(item.panel) {
            continue;
        }
        if let Some(factor) = factor(tree, item.panel, element) {
            least = Some(least.map_or(factor, |least| least.min(factor)));
            most = most.max(factor);
        }
    }
    match least {
        Some(least) if most > least * (1.0 + ALIKE) => {
            Err("sits where supplies of different kinds meet")
        }
        least => Ok(least),
    }
}

/// Whether an item hangs on `element`.
pub(super) fn hangs_on(tree: &Tree, panel: u32, element: ElementIndex) -> bool {
    tree.path(panel).any(|at| at == element)
}

/// What the items with these indices may draw together, wherever that binds. An item that is more
/// than some room can hold alone can't be lit: `full_a` of those is in the second value.
pub(super) fn rooms(
    tree: &Tree,
    items: &Items,
    weighed: &[usize],
    full_a: &[f64],
) -> (Vec<Room>, Vec<bool>) {
    let mut rooms = Vec::new();
    let mut fits = vec![true; weighed.len()];
    for (at, element) in (0..).zip(&tree.elements) {
        let room = element.lasting_room();
        if room >= Draw::UNLIMITED.less(element.idle) {
            continue;
        }
        let own = (0_u32..).zip(weighed).filter_map(|(index, &item)| {
            let factor = factor(tree, items.all[item].panel, at)?;
            Some((index, factor))
        });
        let own: Vec<(u32, f64)> = own.collect();
        let most = own.iter().map(|(_, factor)| *factor).fold(0.0, f64::max);
        if most <= 0.0 {
            continue;
        }
        let room_a = room.amps().0 * USED / most;
        for &(index, _) in &own {
            let index = index as usize;
            fits[index] &= full_a[weighed[index]] <= room_a;
        }
        let all_a: f64 = own
            .iter()
            .map(|(index, _)| full_a[weighed[*index as usize]])
            .sum();
        if all_a > room_a {
            let items = own.into_iter().map(|(index, _)| index).collect();
            rooms.push(Room { items, room_a });
        }
    }
    (rooms, fits)
}

/// Whether items may be lit together beside those that are, room by room.
#[derive(Debug)]
pub(super) struct Packing<'a> {
    rooms: &'a [Room],
    /// Rooms of each item.
    of: Vec<Vec<usize>>,
    left_a: Vec<f64>,
}

impl<'a> Packing<'a> {
    pub(super) fn new(rooms: &'a [Room], items: usize) -> Self {
        let mut of = vec![Vec::new(); items];
        for (at, room) in rooms.iter().enumerate() {
            for &item in &room.items {
                of[item as usize].push(at);
            }
        }
        Self {
            left_a: rooms.iter().map(|room| room.room_a).collect(),
            rooms,
            of,
        }
    }

    /// Lights one more item if it fits.
    pub(super) fn light(&mut self, item: usize, a: f64) -> bool {
        let fits = self.of[item].iter().all(|&room| self.left_a[room] >= a);
        if fits {
            for &room in &self.of[item] {
                self.left_a[room] -= a;
            }
        }
        fits
    }

    /// All dark again.
    pub(super) fn empty(&mut self) {
        for (left_a, room) in self.left_a.iter_mut().zip(self.rooms) {
            *left_a = room.room_a;
        }
    }
}
