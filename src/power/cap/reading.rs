//! What people may know of the cap.

use super::Limiter;
use crate::power::draw::Scale;
use crate::power::tree::ElementIndex;
use crate::units::Draw;

/// Current of one element of the tree, idle included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reading {
    /// Of the picture as asked.
    pub asked: Draw,
    /// Of the frames that were sent last.
    pub sent: Draw,
    /// The most that nodes may be drawing now. On a floor that is only watched it is what is
    /// asked: no frame of ours may still be on its way there.
    pub reserved: Draw,
    /// The part of `reserved` that belongs to nodes that no longer answer.
    pub silent: Draw,
}

impl Limiter {
    /// Current of one element.
    pub fn reading(&self, element: ElementIndex) -> Reading {
        let own = &self.tree.elements[element as usize];
        let mut reading = Reading {
            asked: own.idle,
            sent: own.idle + self.sums[element as usize].sent,
            reserved: own.idle,
            silent: self.sums[element as usize].unreachable,
        };
        for &out in &self.touching[element as usize] {
            let share = &self.shares[out as usize];
            if let Ok(at) = share.touched.binary_search(&element) {
                reading.asked += share.asked[at];
            }
        }
        if own.capped {
            reading.reserved += self.sums[element as usize].reserved;
        } else {
            reading.reserved = reading.asked;
        }
        reading
    }

    /// The factor at one element. Of a supply whose panels share a level it is the least that this
    /// makes of any of them.
    pub fn scale(&self, element: ElementIndex) -> Scale {
        if !self.levels.is_level(&self.tree, element) {
            return self.scales.of(element);
        }
        let basin = self.levels.basin_of(element);
        let panels = basin.map(|basin| self.levels.basins[basin as usize].panels());
        let factors = panels.into_iter().flatten();
        let factors = factors.map(|panel| self.levels.now[panel as usize]);
        factors.min().unwrap_or(Scale::ONE)
    }

    /// What each panel of a supply may draw beyond idle at most, if it is over and its panels share
    /// a level.
    pub fn level(&self, supply: ElementIndex) -> Option<Draw> {
        let factor = self.scales.of(supply);
        let basin = self.levels.basin_of(supply)?;
        let is_level = self.levels.is_level(&self.tree, supply) && factor < Scale::ONE;
        is_level.then(|| self.levels.basins[basin as usize].level(factor))
    }

    /// The least factor that any part of a panel was last multiplied with.
    pub fn panel_scale(&self, panel: usize) -> Scale {
        self.parts_of[panel]
            .iter()
            .filter_map(|&(out, at)| self.shares[out as usize].factors.get(at).copied())
            .min()
            .unwrap_or(Scale::ONE)
    }
}
