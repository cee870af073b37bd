//! Measured beside computed: which sensor can be believed, and how much stricter the cap has to be.
//!
//! A sensor's [`Watch`] is told what it should see ([`Watch::expect`]) and what it says
//! ([`Watch::read`]), each with its time, and gives its [`Verdict`]. [`calibration`] learns from a
//! run of known light what a place really draws. Both end in a live limit, which only ever lowers
//! that of the floor file: [`Watch::live_limit`].

pub mod calibration;
mod watch;

pub use calibration::{Fit, Sample, Unfit};
pub use watch::{Seen, Side, Spec, Verdict, Watch};

/// Colours that currents are told apart by, in the order of
/// [`Colour::ALL`](crate::floor::model::Colour::ALL).
pub const COLOURS: usize = 4;

/// What the model says that one place draws.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Computed {
    /// With all dark, in amperes.
    pub idle_a: f64,
    /// What the light of each colour adds, in amperes.
    pub colours_a: [f64; COLOURS],
}

impl Computed {
    /// All of it.
    pub fn total_a(&self) -> f64 {
        self.idle_a + self.colours_a.iter().sum::<f64>()
    }
}

#[cfg(test)]
mod tests;
