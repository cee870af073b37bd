//! The factor of every element of the tree.
//!
//! A factor falls at once to its aim, which is what its element can carry, and is let up towards
//! it smoothly, so that the light does not pump. The factors of a path are multiplied: what hangs
//! on one element dims alike, and an element that carries its load dims nothing.
//!
//! Only what the newest pictures ask for decides whether an element is over. How far its factor
//! then falls goes by the peaks of all frames that may be on show, within bounds, so that a
//! picture that moves from universe to universe does not make the light pump; where frames merely
//! overlap, the headroom holds the brighter one back for the moment that takes.
//!
//! Aims are found from below with the *aims* of the elements below, not with their factors of the
//! moment. So a factor that is still being let up moves no other, and on constant input every
//! factor only rises.

use super::draw::Scale;
use super::level::Levels;
use super::tree::{ElementIndex, Tree};
use crate::units::Draw;

/// What levels are multiplied with on their way up the tree.
#[derive(Clone, Copy)]
pub(super) struct Factors<'a> {
    pub(super) tree: &'a Tree,
    pub(super) scales: &'a Scales,
    pub(super) levels: &'a Levels,
}

impl Factors<'_> {
    /// What the factor of one element is on its way to. A supply whose factor is a level has none of
    /// its own: it is in those of its panels.
    pub(super) fn aim(&self, element: ElementIndex) -> Scale {
        let own = self.scales.aim(element);
        if self.levels.basins.is_empty() {
            return own;
        }
        match self.levels.aim.get(element as usize) {
            Some(&of_level) => own.then(of_level),
            None if self.levels.is_level(self.tree, element) => Scale::ONE,
            None => own,
        }
    }

    /// Whether nothing is dimmed and nothing is about to be, so that every factor and aim is one.
    pub(super) const fn are_one(&self) -> bool {
        self.levels.basins.is_empty() && !self.scales.any_lowered()
    }

    /// The factor of a panel's levels: the product over its path.
    pub(super) fn along(&self, panel: ElementIndex) -> Scale {
        let of_level = self.levels.now.get(panel as usize).copied();
        let path = self.tree.path(panel);
        path.fold(of_level.unwrap_or(Scale::ONE), |product, at| {
            if self.levels.is_level(self.tree, at) {
                product
            } else {
                product.then(self.scales.of(at))
            }
        })
    }
}

/// A factor this close to its aim (1/256: half a step of an 8-bit level at most) jumps to it.
const CLOSE: u32 = 256;

/// Peaks lower a factor to nine tenths of what the newest pictures alone would ask for, at most
/// (our choice: more than what moving content sways, and less than what anyone would miss).
const PEAKS_LOWER_TO: Scale = Scale(58_982);

/// Universes of one picture arrive one after the other, so an element may seem over until the
/// last of them is there. A factor that fell for no longer than this returns at once …
const BRIEF_S: f64 = 0.05;

/// … but not again before this time has passed, lest the light pump. (Both are our choice: two
/// frames of a console, and a third of a second.)
const REST_S: f64 = 0.3;

/// What an element would draw with a factor of one.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Demand {
    /// With the newest pictures.
    pub newest: Draw,
    /// With the most that each universe asks in any frame that may be on show.
    pub peak: Draw,
}

impl Demand {
    /// Nothing is asked.
    pub const NONE: Self = Self {
        newest: Draw::ZERO,
        peak: Draw::ZERO,
    };
}

/// What a new demand did to a factor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moved {
    /// Its aim changed, so the elements above see another demand.
    pub aim: bool,
    /// It fell, so frames that were made with it are too bright.
    pub fell: bool,
    /// It returned to what it was before it fell for a moment.
    pub returned: bool,
}

/// The aim that fits what the newest pictures ask, lowered by what the peaks ask, within bounds.
pub(super) fn aim_of(newest: Scale, peaks: impl FnOnce() -> Scale) -> Scale {
    if newest == Scale::ONE {
        return newest;
    }
    peaks().max(newest.then(PEAKS_LOWER_TO)).min(newest)
}

/// Factors of all elements.
#[derive(Debug, Clone)]
pub struct Scales {
    now: Vec<Scale>,
    aim: Vec<Scale>,
    lowered: usize,
    /// Seconds that were told to [`Self::let_up`] so far.
    told_s: f64,
    /// What each factor was before it fell, and when it did.
    fallen: Vec<(Scale, f64)>,
    /// When each factor last returned at once.
    returned_s: Vec<f64>,
}

impl Scales {
    /// Nothing is dimmed.
    pub fn new(tree: &Tree) -> Self {
        let all = vec![Scale::ONE; tree.elements.len()];
        Self {
            fallen: vec![(Scale::ONE, f64::NEG_INFINITY); all.len()],
            returned_s: vec![f64::NEG_INFINITY; all.len()],
            now: all.clone(),
            aim: all,
            lowered: 0,
            told_s: 0.0,
        }
    }

    /// Takes over the factors of another tree, for each pair of the same element: here, there.
    pub fn take_over(
        &mut self,
        before: &Self,
        same: impl Iterator<Item = (ElementIndex, ElementIndex)>,
    ) {
        self.told_s = before.told_s;
        for (here, there) in same {
            self.set(here, before.of(there));
            self.fallen[here as usize] = before.fallen[there as usize];
            self.returned_s[here as usize] = before.returned_s[there as usize];
        }
    }

    /// The factor of one element.
    pub fn of(&self, element: ElementIndex) -> Scale {
        self.now[element as usize]
    }

    /// What the factor of one element is on its way to.
    pub fn aim(&self, element: ElementIndex) -> Scale {
        self.aim[element as usize]
    }

    /// Whether any factor is below one.
    pub const fn any_lowered(&self) -> bool {
        self.lowered > 0
    }

    /// Takes a new demand of an element that may draw `room`.
    pub fn set_demand(&mut self, element: ElementIndex, demand: Demand, room: Draw) -> Moved {
        let newest = Scale::to_fit(demand.newest, room);
        let mut aim = aim_of(newest, || Scale::to_fit(demand.peak, room));
        // Sums of draws that were each rounded up may pass the room by a few parts.
        if aim < Scale::ONE {
            aim = Scale(aim.0.saturating_sub(1));
        }
        self.set_aim(element, aim)
    }

    /// Takes a new aim of an element.
    pub fn set_aim(&mut self, element: ElementIndex, aim: Scale) -> Moved {
        let before = std::mem::replace(&mut self.aim[element as usize], aim);
        let now = self.now[element as usize];
        let fell = aim < now;
        let mut returned = false;
        let (was, fell_s) = self.fallen[element as usize];
        let brief = self.told_s - fell_s <= BRIEF_S;
        if fell {
            if !brief {
                self.fallen[element as usize] = (now, self.told_s);
            }
            self.set(element, aim);
        } else if brief
            && was.min(aim) > now
            && self.told_s - self.returned_s[element as usize] > REST_S
        {
            self.returned_s[element as usize] = self.told_s;
            self.set(element, was.min(aim));
            returned = true;
        }
        Moved {
            aim: aim != before,
            fell,
            returned,
        }
    }

    /// Lets every factor up towards its aim for `elapsed_s` seconds with a time constant of
    /// `constant_s`; calls `changed` with each that moved.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of u32"
    )]
    pub fn let_up(
        &mut self,
        elapsed_s: f64,
        constant_s: f64,
        mut changed: impl FnMut(ElementIndex),
    ) {
        self.told_s += elapsed_s;
        let step = 1.0 - (-elapsed_s / constant_s).exp();
        if self.lowered == 0 {
            return;
        }
        for element in 0..self.now.len() {
            let (now, aim) = (self.now[element], self.aim[element]);
            let missing = aim.0.saturating_sub(now.0);
            if missing == 0 {
                continue;
            }
            let rise = if missing <= CLOSE {
                missing
            } else {
                ((f64::from(missing) * step) as u32).clamp(1, missing)
            };
            let element = element as ElementIndex;
            self.set(element, Scale(now.0 + rise));
            changed(element);
        }
    }

    fn set(&mut self, element: ElementIndex, scale: Scale) {
        let now = &mut self.now[element as usize];
        let (before, after) = (*now < Scale::ONE, scale < Scale::ONE);
        *now = scale;
        match (before, after) {
            (false, true) => self.lowered += 1,
            (true, false) => self.lowered -= 1,
            _ => {}
        }
    }
}
