//! The last seconds of one sensor, and what they say of something that was out for a while.

use std::collections::VecDeque;

use crate::units::Time;

/// So long readings are kept, in microseconds.
const KEEP_US: u64 = 20_000_000;
/// So many readings are needed to know what was before.
const FEW: u32 = 5;

/// A reading.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Heard {
    pub(super) at: Time,
    /// What is drawn above all that is known, and its variance by itself.
    pub(super) above_a: f64,
    pub(super) variance: f64,
    /// Variance of an error that all readings of some seconds share.
    pub(super) common: f64,
    /// What each item that the sensor sees draws if it is good.
    pub(super) drawn_a: Vec<f64>,
}

#[derive(Debug, Clone, Default)]
pub(super) struct Brief {
    readings: VecDeque<Heard>,
}

impl Brief {
    pub(super) fn put(&mut self, heard: Heard) {
        while let Some(first) = self.readings.front() {
            if heard.at.us_since(first.at) <= KEEP_US {
                break;
            }
            self.readings.pop_front();
        }
        self.readings.push_back(heard);
    }

    /// The matched filter for these items being out from `open.0` to `open.1`, beside what was read since
    /// `before`: readings have noise of their own, and one error in common. Gives a and b (see
    /// [`looked`](crate::health::show::steps)), and by how much less was drawn on the mean. `usable` says of each
    /// reading if it counts.
    pub(super) fn weigh(
        &self,
        places: &[usize],
        before: Time,
        open: (Time, Time),
        usable: impl Fn(Time) -> bool,
    ) -> (f64, f64, f64) {
        let (mut one, mut read, mut adds) = (0.0, 0.0, 0.0);
        let (mut adds_read, mut adds_adds) = (0.0, 0.0);
        let (mut common, mut quiet, mut inside) = (0.0_f64, 0_u32, 0_u32);
        let (mut quiet_a, mut inside_a) = (0.0, 0.0);
        let first = self.readings.partition_point(|heard| heard.at < before);
        for heard in self.readings.range(first..) {
            if heard.at >= open.1 {
                break;
            }
            let is_open = heard.at >= open.0;
            if !usable(heard.at) {
                continue;
            }
            let weight = 1.0 / heard.variance;
            one += weight;
            read += heard.above_a * weight;
            common = common.max(heard.common);
            if is_open {
                let s = -places
                    .iter()
                    .map(|&place| heard.drawn_a[place])
                    .sum::<f64>();
                adds += s * weight;
                adds_read += s * heard.above_a * weight;
                adds_adds += s * s * weight;
                inside += 1;
                inside_a += heard.above_a;
            } else {
                quiet += 1;
                quiet_a += heard.above_a;
            }
        }
        if inside == 0 {
            return (0.0, 0.0, 0.0);
        }
        // Sherman and Morrison: the inverse of noise and one common error.
        let shared = common / (1.0 + common * one);
        let a = adds_read - shared * adds * read;
        let b = adds_adds - shared * adds * adds;
        let was_a = if quiet >= FEW {
            quiet_a / f64::from(quiet)
        } else {
            0.0
        };
        (a, b.max(0.0), was_a - inside_a / f64::from(inside))
    }
}
