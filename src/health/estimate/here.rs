//! What lies at one place for whoever goes there with a soldering iron: which of it is broken shows on
//! the bench, so a fault of which only the place is known can be repaired.

use super::Estimator;
use crate::health::causes::{Found, Guess};
use crate::health::joints::{Place, Wire};

/// Where one has to go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Spot {
    /// Where a panel's wires enter it, with the links that bring them.
    Entry(usize),
    /// The joint of a panel before this segment, counted from 0 and never the first.
    Joint(usize, usize),
    /// A segment of a panel itself.
    Segment(usize, usize),
    /// A feed's fuse and cable: somewhere else than each of its panels.
    Feed(usize),
}

impl Spot {
    /// Whether who goes to the one has the other at hand.
    fn meets(self, other: Self) -> bool {
        match (self, other) {
            (Self::Segment(panel, segment), joint) | (joint, Self::Segment(panel, segment))
                if self != other =>
            {
                // The joints at both of its ends.
                let before = match segment {
                    0 => Self::Entry(panel),
                    _ => Self::Joint(panel, segment),
                };
                joint == before || joint == Self::Joint(panel, segment + 1)
            }
            _ => self == other,
        }
    }
}

impl Estimator {
    fn spot(&self, guess: Guess) -> Spot {
        match guess {
            Guess::Open(at) | Guess::Resistive(at) => match self.joints.joints[at].place {
                Place::Before { panel, segment } => Spot::Joint(panel, segment),
                Place::Entry { panel } | Place::Between { to: panel, .. } => Spot::Entry(panel),
                Place::Run(run) => Spot::Entry(self.floor.runs[run].panels[0]),
                Place::Feed(feed) => Spot::Feed(feed),
            },
            Guess::Dead(item) | Guess::Weak(item) | Guess::Stuck(item) => {
                let item = self.joints.items[item];
                Spot::Segment(item.panel as usize, item.segment as usize)
            }
        }
    }

    fn others_here<'a>(&'a self, found: &'a Found) -> impl Iterator<Item = &'a (Guess, f64)> {
        let spot = self.spot(found.guess);
        let others = found.others.iter();
        others.filter(move |(other, _)| spot.meets(self.spot(*other)))
    }

    /// The probability that it, or something else at its place, is broken. What is too unlikely to be told
    /// is not counted, so it is rather more than this.
    pub(super) fn here(&self, found: &Found) -> f64 {
        let others = self.others_here(found).map(|(_, chance)| chance);
        (found.chance + others.sum::<f64>()).min(1.0)
    }

    /// The place with all of it that may be meant.
    pub(super) fn places(&self, found: &Found) -> String {
        let (_, mut all, _) = self.guess(found.guess);
        let stem = all.rsplit_once(", ").map(|(stem, _)| stem.to_owned());
        let mut told = vec![all.clone()];
        for (other, _) in self.others_here(found) {
            let (_, place, _) = self.guess(*other);
            if told.contains(&place) {
                continue;
            }
            match place.rsplit_once(", ") {
                // The same joint, by another side of it.
                Some((same, side)) if told.len() == 1 && Some(same) == stem.as_deref() => {
                    all = format!("{all} or {side}");
                }
                _ => all = format!("{all}; or {place}"),
            }
            told.push(place);
        }
        all
    }

    /// Keys of everything else that can break at its place.
    pub(super) fn keys_here(&self, guess: Guess) -> Vec<String> {
        let spot = self.spot(guess);
        let joints = self.joints.joints.iter().enumerate();
        let joints = joints.flat_map(|(at, joint)| {
            let resistive = (joint.wire == Wire::Supply).then_some(Guess::Resistive(at));
            [Some(Guess::Open(at)), resistive].into_iter().flatten()
        });
        let items = 0..self.joints.items.len();
        let items = items.flat_map(|at| [Guess::Dead(at), Guess::Weak(at), Guess::Stuck(at)]);
        let here = |other: &Guess| *other != guess && spot.meets(self.spot(*other));
        let keys = joints.chain(items).filter(here);
        keys.map(|other| self.guess(other).2).collect()
    }
}
