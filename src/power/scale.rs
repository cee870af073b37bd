//! The factor of every element of the tree.
//!
//! A factor falls at once to its aim, which is what its element can carry, and is let up towards
//! it smoothly, so that the light does not pump. The factors of a path are multiplied: what hangs
//! on one element dims alike, and an element that carries its load dims nothing.
//!
//! Aims are found from below with the *aims* of the elements below, not with their factors of the
//! moment. So a factor that is still being let up moves no other, and on constant input every
//! factor only rises.

use super::draw::Scale;
use super::tree::{ElementIndex, Tree};
use crate::units::Draw;

/// A factor this close to its aim (1/256: half a step of an 8-bit level at most) jumps to it.
const CLOSE: u32 = 256;

/// What a new demand did to a factor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moved {
    /// Its aim changed, so the elements above see another demand.
    pub aim: bool,
    /// It fell, so frames that were made with it are too bright.
    pub fell: bool,
}

/// Factors of all elements.
#[derive(Debug, Clone)]
pub struct Scales {
    now: Vec<Scale>,
    aim: Vec<Scale>,
    lowered: usize,
}

impl Scales {
    /// Nothing is dimmed.
    pub fn new(tree: &Tree) -> Self {
        let all = vec![Scale::ONE; tree.elements.len()];
        Self {
            now: all.clone(),
            aim: all,
            lowered: 0,
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

    /// The product over the path of an element.
    pub fn along(&self, tree: &Tree, from: ElementIndex) -> Scale {
        tree.path(from)
            .fold(Scale::ONE, |product, at| product.then(self.of(at)))
    }

    /// Whether any factor is below one.
    pub const fn any_lowered(&self) -> bool {
        self.lowered > 0
    }

    /// `demand` is what the element would draw with a factor of one, `room` what it may.
    pub fn set_demand(&mut self, element: ElementIndex, demand: Draw, room: Draw) -> Moved {
        let mut aim = Scale::to_fit(demand, room);
        // Sums of draws that were each rounded up may pass the room by a few parts.
        if aim < Scale::ONE {
            aim = Scale(aim.0.saturating_sub(1));
        }
        let before = std::mem::replace(&mut self.aim[element as usize], aim);
        let fell = aim < self.now[element as usize];
        if fell {
            self.set(element, aim);
        }
        Moved {
            aim: aim != before,
            fell,
        }
    }

    /// Lets every factor up towards its aim by the share `step` (0 to 1) of what is missing;
    /// calls `changed` with each that moved.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of u32"
    )]
    pub fn let_up(&mut self, step: f64, mut changed: impl FnMut(ElementIndex)) {
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
