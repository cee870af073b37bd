//! Which items are dead, from what current sensors read while light changes.
//!
//! Every item has a *lack*: the share of its computed current that it does not draw; 0 when good, 1
//! when dead, between when weak. What a sensor reads less than was computed is the sum of lacks times
//! computed currents, and of things that nobody asks about: each good item differs a little from what
//! was computed (`tolerance`), a sensor has an error of gain and an offset, a reading has noise. Those
//! are Gaussian, so that they can be reckoned out exactly, and what is left is a quadratic form over
//! the lacks. [`Evidence`] gathers it in Gram form and can forget; [`Running`] follows it reading by
//! reading. The *search* then asks which lacks explain best what was read (least squares, however
//! bounded, does not know that a lack is nearly always 0 or 1), and the *chances* ask of each item how
//! much worse everything would fit were it otherwise, alone or with any other item.

mod chances;
mod cost;
mod evidence;
mod groups;
mod running;
mod search;
mod short;
mod stuck;

#[cfg(test)]
mod tests;

pub mod bounded;
pub mod matrix;

pub use evidence::Evidence;
pub use running::Running;
pub use short::{Short, Weighed};

use crate::health::{Condition, Judged};

/// The share of its current below which an item is called dead.
pub const DEAD_BELOW: f64 = 0.2;

/// What is known before anything is read.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Layout {
    /// The current of each item when it is fully lit, beyond idle.
    pub full_a: Vec<f64>,
    /// The sensors.
    pub sensors: Vec<SensorLayout>,
    /// Standard deviation of what an item draws from what was computed, as a share.
    pub tolerance: f64,
}

/// One sensor.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SensorLayout {
    /// The items whose current it sees.
    pub sees: Vec<u32>,
    /// Standard deviation of its gain from 1, of the computed currents' common error too.
    pub gain_sd: f64,
    /// Standard deviation of what it reads when nothing is lit, from what is taken off.
    pub offset_sd_a: f64,
}

/// How often an item is faulty before anything is known of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Priors {
    /// Probability that an item is dead.
    pub dead: f64,
    /// Probability that it is weak.
    pub weak: f64,
    /// The share of its current from which on an item is called good.
    pub good_from: f64,
    /// Probability that one that does not do what it is told draws current all the time.
    pub stuck: f64,
}

impl Default for Priors {
    /// Chosen so that a floor of some hundred items is expected to have a few dead ones, from trials.
    fn default() -> Self {
        Self {
            dead: 0.01,
            weak: 0.003,
            good_from: 0.9,
            stuck: 0.05,
        }
    }
}

/// How probable each condition of one item is; they sum to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chance {
    /// It draws what it should.
    pub good: f64,
    /// It does nothing of what it is told.
    pub dead: f64,
    /// It draws less than it should.
    pub weak: f64,
    /// The share it draws in the best explanation that has it so, or if it were weak.
    pub share: f64,
    /// The share of its full current that it draws all the time; 0 if nothing says so.
    pub stuck: f64,
    /// Probability that it is not stuck, if it does nothing of what it is told.
    pub stuck_doubt: f64,
    /// Inverse variance of its lack, were the lacks of all others known: from 0, nothing was read
    /// that depends on it, up to 1 / tolerance².
    pub weight: f64,
}

/// What the evidence says.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Decision {
    /// Of each item; nothing where no sensor has seen it lit.
    pub chances: Vec<Option<Chance>>,
    /// Mean square of what is left unexplained, against what noise and tolerance explain: about 1. Far
    /// more means that something is not as modelled; the chances are then the more careful.
    pub misfit: f64,
}

impl Decision {
    /// The likeliest condition of each item.
    pub fn judged(&self) -> Vec<Judged> {
        self.chances
            .iter()
            .map(|chance| chance.as_ref().map_or(UNKNOWN, Chance::judged))
            .collect()
    }
}

/// One that does nothing of what it is told is called stuck only if that is as sure as this; else dead.
const STUCK_DOUBT: f64 = 0.01;

/// What is said of an item that nothing is known of.
pub const UNKNOWN: Judged = Judged {
    condition: Condition::Unknown,
    doubt: 1.0,
};

impl Chance {
    /// The likeliest condition, and how likely it is wrong.
    pub fn judged(&self) -> Judged {
        if self.good >= self.dead && self.good >= self.weak {
            Judged {
                condition: Condition::Good,
                doubt: self.dead + self.weak,
            }
        } else if self.weak > self.dead {
            Judged {
                condition: Condition::Weak(self.share),
                doubt: self.good + self.dead,
            }
        } else if self.stuck_doubt < STUCK_DOUBT {
            Judged {
                condition: Condition::Stuck(self.stuck),
                doubt: (self.good + self.weak + self.stuck_doubt).min(1.0),
            }
        } else {
            Judged {
                condition: Condition::Dead,
                doubt: self.good + self.weak,
            }
        }
    }
}
