//! One reading beside what was computed for its moment.

use super::align::{Felt, SKEW_S};
use super::baseline::SensorBase;
use super::spec::ShowSensor;
use crate::units::Time;

/// A reading in amperes of items, with the sensor's learnt gain and offset taken out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heard {
    /// Which sensor.
    pub sensor: usize,
    /// When it was read.
    pub at: Time,
    /// What the sensor's items were computed to draw together.
    pub total_a: f64,
    /// What they drew, by this reading.
    pub drawn_a: f64,
    /// Variance of the reading: noise, rounding, and what an error of time would do.
    pub variance: f64,
    /// By how much an error of time may put the sum wrong, as [`Felt::skewed_a`].
    pub skewed_a: f64,
}

impl Heard {
    pub(super) fn new(
        spec: &ShowSensor,
        sensor: usize,
        (value_a, at): (f64, Time),
        felt: &Felt,
        base: &SensorBase,
    ) -> Self {
        let read_a = (value_a - spec.idle_a) / spec.factor;
        Self {
            sensor,
            at,
            total_a: felt.total_a,
            skewed_a: felt.skewed_a,
            drawn_a: (read_a - base.offset_a) / base.gain,
            variance: spec.variance(1.0)
                + (felt.skewed_a * base.late_sd_s / SKEW_S).powi(2)
                // What jumps was either still or already lit, and is taken to have been on the way: on the
                // average of all times that is a sixth of the square of the whole jump.
                + felt.jumps * 4.0 / 6.0,
        }
    }

    /// What is drawn less than computed.
    pub fn less_a(&self) -> f64 {
        self.total_a - self.drawn_a
    }
}
