//! What an answer says of what was seen.

use super::wired::{Sent, Sight, Wired};
use crate::pattern::Light;

/// What was sent, and what was said of it.
#[derive(Debug, Clone)]
pub(super) struct Seen {
    pub(super) sent: Vec<Sent>,
    pub(super) said: Said,
}

/// What was said.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Said {
    /// It looks like this.
    Exactly(Sight),
    /// Most of the light is there, and it looks like none of these.
    There(usize, Vec<Sight>),
    /// Nothing lights.
    Nothing,
    /// The pixel nearest to this point of a panel lights; tenths of millimetres on the floor.
    Point(usize, i64, i64),
    /// Most of it has this colour.
    Colour(Light),
}

impl Said {
    /// Whether someone who sees `sight` on a floor that is wired so would say this.
    pub(super) fn of(&self, sight: &Sight, wired: &Wired) -> bool {
        match self {
            Self::Exactly(wanted) => sight == wanted,
            Self::There(panel, others) => {
                sight.brightest().contains(panel) && !others.contains(sight)
            }
            Self::Nothing => sight.0.is_empty(),
            Self::Point(panel, x, y) => {
                let distance = |(px, py): &(i64, i64)| (px - x).pow(2) + (py - y).pow(2);
                let nearest = wired.places(*panel).into_iter().min_by_key(distance);
                nearest.is_some_and(|(x, y)| sight.0.contains_key(&(*panel, x, y)))
            }
            Self::Colour(colour) => sight.colours().contains(colour),
        }
    }
}

impl Seen {
    /// Whether a floor that is wired so would have led to this.
    pub(super) fn fits(&self, wired: &Wired) -> bool {
        self.said.of(&wired.see(&self.sent), wired)
    }
}
