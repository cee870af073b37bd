//! Max-min sharing: only the panels that ask for most are dimmed, all to the same level.
//!
//! Below a supply with `sharing = "max-min"` every panel draws what it asks or the level, whichever
//! is less, and the level is the highest that keeps the supply's limit (as water fills a basin: the
//! panels are its floor turned over). A feed keeps its own limit by a factor of its own, and
//! what it holds back so leaves more for the others: with the level L, panels' asks a and feeds'
//! rooms R the supply carries Σ over feeds of min(R, Σ over its panels of min(a, L)), and L is the
//! highest for which that fits.
//!
//! The level falls at once and is let up smoothly, as factors are; it is kept as a share of what
//! the largest panel draws in white, in the place of the supply's factor in
//! [`Scales`](super::scale::Scales).

use super::draw::Scale;
use super::tree::{ElementIndex, Level, Tree};
use crate::floor::model::{Floor, Sharing};
use crate::floor::tables::Tables;
use crate::units::Draw;

/// Of an element that no such supply has.
const NONE: u32 = u32::MAX;

/// The panels of one such supply.
#[derive(Debug)]
pub(super) struct Basin {
    pub(super) supply: ElementIndex,
    /// Each feed with its panels.
    pub(super) feeds: Vec<(ElementIndex, Vec<ElementIndex>)>,
    /// What the largest panel draws in white, without idle.
    full: Draw,
    /// What rounding up may add to the sums.
    slack: Draw,
}

impl Basin {
    /// The level that a factor stands for.
    pub(super) fn level(&self, factor: Scale) -> Draw {
        let parts = (u128::from(self.full.0) * u128::from(factor.0)) >> 16;
        Draw(u64::try_from(parts).unwrap_or(u64::MAX))
    }

    /// What the supply carries with that level.
    pub(super) fn carried(
        &self,
        level: Draw,
        asked: impl Fn(ElementIndex) -> Draw,
        room: impl Fn(ElementIndex) -> Draw,
    ) -> Draw {
        let of_feed = |(feed, panels): &(ElementIndex, Vec<ElementIndex>)| {
            let panels = panels.iter().map(|&panel| asked(panel).min(level));
            panels.sum::<Draw>().min(room(*feed))
        };
        self.feeds.iter().map(of_feed).sum()
    }

    /// The highest level with which the supply carries no more than `room_of` gives it.
    pub(super) fn fill(
        &self,
        asked: impl Fn(ElementIndex) -> Draw,
        room_of: impl Fn(ElementIndex) -> Draw,
    ) -> Scale {
        let room = room_of(self.supply).less(self.slack);
        let fits = |factor| self.carried(self.level(Scale(factor)), &asked, &room_of) <= room;
        if fits(Scale::ONE.0) {
            return Scale::ONE;
        }
        let (mut low, mut high) = (0, Scale::ONE.0);
        while high - low > 1 {
            let middle = low.midpoint(high);
            if fits(middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        Scale(low)
    }

    pub(super) fn panels(&self) -> impl Iterator<Item = ElementIndex> + '_ {
        self.feeds
            .iter()
            .flat_map(|(_, panels)| panels.iter().copied())
    }
}

/// All such supplies, and what each of their panels is multiplied with.
#[derive(Debug, Default)]
pub(super) struct Levels {
    pub(super) basins: Vec<Basin>,
    /// Index into `basins` for each element in or above one, up to its supply. Empty without any.
    of: Vec<u32>,
    /// The factor of each panel that the aim of its level makes, and its level of the moment.
    pub(super) aim: Vec<Scale>,
    pub(super) now: Vec<Scale>,
    dirty: Vec<u32>,
}

impl Levels {
    pub(super) fn new<T>(floor: &Floor, tables: &Tables, tree: &Tree, touching: &[Vec<T>]) -> Self {
        let mut levels = Self::default();
        if (floor.supplies.iter()).all(|supply| supply.sharing != Sharing::MaxMin) {
            return levels;
        }
        let mut below = vec![Vec::new(); tree.elements.len()];
        for (at, element) in (0..).zip(&tree.elements) {
            if let Some(parent) = element.parent {
                below[parent as usize].push(at);
            }
        }
        for (at, supply) in floor.supplies.iter().enumerate() {
            if supply.sharing != Sharing::MaxMin {
                continue;
            }
            let supply = tree.supply(at);
            let feeds: Vec<_> = below[supply as usize]
                .iter()
                .map(|&feed: &ElementIndex| (feed, below[feed as usize].clone()))
                .collect();
            let mut basin = Basin {
                supply,
                feeds,
                full: Draw::ZERO,
                slack: Draw::ZERO,
            };
            let full = basin
                .panels()
                .map(|panel| tables.panels[panel as usize].full);
            // At least one part, so that a supply without panels has a level.
            basin.full = full.max().unwrap_or_default().max(Draw(1));
            let sums = basin.panels().map(|panel| touching[panel as usize].len());
            basin.slack = Draw(4 * sums.sum::<usize>() as u64);
            levels.basins.push(basin);
        }
        levels.of = vec![NONE; tree.elements.len()];
        levels.aim = vec![Scale::ONE; floor.panels.len()];
        levels.now.clone_from(&levels.aim);
        for (at, basin) in (0..).zip(&levels.basins) {
            levels.of[basin.supply as usize] = at;
            for (feed, panels) in &basin.feeds {
                levels.of[*feed as usize] = at;
                for &panel in panels {
                    levels.of[panel as usize] = at;
                }
            }
        }
        levels
    }

    /// Whether this is a supply that shares so, whose factor is a level.
    pub(super) fn is_level(&self, tree: &Tree, element: ElementIndex) -> bool {
        self.basin_of(element).is_some() && tree.elements[element as usize].level == Level::Supply
    }

    /// The basin that an element is in.
    pub(super) fn basin_of(&self, element: ElementIndex) -> Option<u32> {
        let basin = self.of.get(element as usize).copied();
        basin.filter(|&basin| basin != NONE)
    }

    /// The level of this element's basin has to be found anew.
    pub(super) fn touch(&mut self, element: ElementIndex) {
        if let Some(basin) = self.basin_of(element)
            && !self.dirty.contains(&basin)
        {
            self.dirty.push(basin);
        }
    }

    /// Takes the next basin whose level has to be found anew.
    pub(super) fn next_dirty(&mut self) -> Option<usize> {
        self.dirty.pop().map(|basin| basin as usize)
    }

    /// It has been found.
    pub(super) fn found(&mut self, basin: usize) {
        self.dirty.retain(|&dirty| dirty as usize != basin);
    }
}
