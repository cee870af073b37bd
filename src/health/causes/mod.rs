//! From what is known of every item to what broke: the likeliest set of causes.
//!
//! Each cause has a price, the negative logarithm of how often it happens; each item has one for
//! every way it may be ([`Belief`]). The set of causes that explains everything at the lowest total
//! price is the likeliest one (the maximum a posteriori, from the textbooks). It is found by adding,
//! taking away and exchanging causes until nothing is cheaper. How sure a cause is follows from what
//! the total would be with each other cause in its place, and with none.

mod search;

use super::belief::Belief;
use super::joints::{Joints, Wire};

/// What may have broken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Guess {
    /// A joint is open: an index into [`Joints::joints`].
    Open(usize),
    /// It has resistance.
    Resistive(usize),
    /// An item is dead by itself: an index into [`Joints::items`].
    Dead(usize),
    /// It draws too little by itself.
    Weak(usize),
    /// It draws whatever it is told.
    Stuck(usize),
}

/// How often each breaks, as a share of those that there are. Common practice, no source: joints
/// first, copper and drivers last.
mod odds {
    pub(super) const JOINT: f64 = 5e-3;
    pub(super) const CABLE: f64 = 2e-3;
    pub(super) const RESISTIVE: f64 = 3e-3;
    pub(super) const DEAD: f64 = 3e-4;
    pub(super) const WEAK: f64 = 1e-3;
    pub(super) const STUCK: f64 = 3e-4;
}

/// Somebody or something says that a panel is not right, and not which of its segments.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Claim {
    /// Index of the panel.
    pub panel: usize,
    /// How much likelier it is that this is said of a panel that is not right, as a logarithm.
    pub weight: f64,
}

/// A cause that was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// What.
    pub guess: Guess,
    /// Probability that it, and none of what else would explain the same, is so.
    pub chance: f64,
    /// What else would, with its probability, the likeliest first; at least 1 in 20.
    pub others: Vec<(Guess, f64)>,
    /// Items that it takes, of [`Joints::items`].
    pub takes: Vec<u32>,
}

/// The likeliest causes of what is believed of every item of `joints`.
///
/// Claims that no cause explains are for the caller to tell: see [`explained`].
pub fn find(joints: &Joints, beliefs: &[Belief], claims: &[Claim]) -> Vec<Found> {
    search::Search::new(joints, beliefs, claims).run()
}

/// Whether a claim is explained by what was found.
pub fn explained(joints: &Joints, claim: &Claim, found: &[Found]) -> bool {
    let own = &joints.of_panel[claim.panel];
    let in_panel = |at: &u32| own.contains(&(*at as usize));
    found.iter().any(|found| found.takes.iter().any(in_panel))
}

/// What everything that may have broken takes, and what it costs to believe in it.
fn price(joints: &Joints, guess: Guess) -> f64 {
    use super::joints::Place;
    let odds = match guess {
        Guess::Open(joint) => match joints.joints[joint].place {
            Place::Before { .. } => odds::JOINT,
            _ => odds::CABLE,
        },
        Guess::Resistive(_) => odds::RESISTIVE,
        Guess::Dead(_) => odds::DEAD,
        Guess::Weak(_) => odds::WEAK,
        Guess::Stuck(_) => odds::STUCK,
    };
    // What lies behind open data may be dark or frozen: either fits only half as well.
    let either = matches!(guess, Guess::Open(joint) if joints.joints[joint].wire == Wire::Data);
    let fits: f64 = if either { 0.5 } else { 1.0 };
    -(odds * fits).ln()
}

/// How an item is that a guess takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Effect {
    Good,
    Weak,
    Stuck,
    /// Behind an open data joint it is dark, or goes on with what it showed last.
    Cut,
    Dead,
}

impl Effect {
    /// All of them, the worst last: of several causes the worst shows.
    const ALL: [Self; 5] = [Self::Good, Self::Weak, Self::Stuck, Self::Cut, Self::Dead];

    fn of(joints: &Joints, guess: Guess) -> Self {
        match guess {
            Guess::Open(joint) if joints.joints[joint].wire == Wire::Data => Self::Cut,
            Guess::Open(_) | Guess::Dead(_) => Self::Dead,
            Guess::Resistive(_) | Guess::Weak(_) => Self::Weak,
            Guess::Stuck(_) => Self::Stuck,
        }
    }

    fn price(self, belief: &Belief) -> f64 {
        let most = belief
            .good
            .max(belief.weak)
            .max(belief.dead)
            .max(belief.stuck);
        let likelihood = match self {
            Self::Good => belief.good,
            Self::Weak => belief.weak,
            Self::Stuck => belief.stuck,
            Self::Cut => belief.dead.max(belief.stuck),
            Self::Dead => belief.dead,
        };
        most - likelihood
    }
}

#[cfg(test)]
mod tests;
