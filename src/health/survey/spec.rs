//! What a survey is told before it begins.

/// One item.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SurveyItem {
    /// Computed current beyond idle at the level that is used.
    pub full_a: f64,
    /// The sensors that see it; with none nothing will be known of it.
    pub sensors: Vec<u16>,
}

/// One sensor.
#[derive(Debug, Clone, PartialEq)]
pub struct SurveySensor {
    /// Seconds from reading to reading.
    pub every_s: f64,
    /// Standard deviation of one reading.
    pub noise_a: f64,
    /// From how many readings beyond one that is known; what the survey reads adds to them.
    pub noise_from: f64,
    /// What it reads is a multiple of this.
    pub step_a: f64,
    /// Standard deviation of its gain from 1, of the computed currents' common error too.
    pub gain_sd: f64,
    /// Standard deviation of what it reads in the dark from `idle_a`.
    pub offset_sd_a: f64,
    /// By how much that wanders in a second (in ten seconds by √10 of it).
    pub drift_a: f64,
    /// Its time constant.
    pub lag_s: f64,
    /// For so long into the next pattern it still says what was before it, if those readings are handed
    /// over as that pattern's: then none needs to be held until all of them have come.
    pub stays_s: f64,
    /// What it should read in the dark.
    pub idle_a: f64,
    /// Amperes at the sensor for one ampere of an item, where it sits before the supply.
    pub factor: f64,
}

impl Default for SurveySensor {
    fn default() -> Self {
        Self {
            every_s: 0.1,
            noise_a: 0.0,
            noise_from: f64::INFINITY,
            step_a: 0.0,
            gain_sd: 0.01,
            offset_sd_a: 1.0,
            drift_a: 0.0,
            lag_s: 0.0,
            stays_s: 0.0,
            idle_a: 0.0,
            factor: 1.0,
        }
    }
}

impl SurveySensor {
    /// A variance of few readings may be taken for too little: what it may be more by, as one standard
    /// deviation (of a χ² distribution, textbook).
    fn more(&self) -> f64 {
        1.0 + (2.0 / self.noise_from).sqrt()
    }

    /// Learns from readings of one pattern, of so many beyond one, whose differences from their mean
    /// have this sum of squares.
    pub(super) fn hear_noise(&mut self, squares: f64, more: f64) {
        if self.noise_from.is_finite() && more > 0.0 {
            let from = self.noise_from + more;
            let variance = self.noise_a * self.noise_a * self.noise_from + squares;
            (self.noise_a, self.noise_from) = ((variance / from).sqrt(), from);
        }
    }

    /// Variance of the mean of so many readings of the same pattern, in amperes of items. Where noise
    /// does not move a reading from step to step, rounding errs the same way every time.
    pub(in crate::health) fn variance(&self, readings: f64) -> f64 {
        let rounding = self.step_a * self.step_a / 12.0;
        let noise = self.noise_a * self.noise_a * self.more() / readings;
        let rounding = if 2.0 * self.noise_a >= self.step_a {
            rounding / readings
        } else {
            rounding
        };
        ((noise + rounding) / (self.factor * self.factor)).max(1e-12)
    }
}

/// A limit: what these items may draw together beyond idle.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Room {
    /// By their numbers.
    pub items: Vec<u32>,
    /// What is left for them.
    pub room_a: f64,
}

/// The whole task.
#[derive(Debug, Clone, PartialEq)]
pub struct SurveySpec {
    /// What is looked at.
    pub items: Vec<SurveyItem>,
    /// By what.
    pub sensors: Vec<SurveySensor>,
    /// Within what.
    pub rooms: Vec<Room>,
    /// Standard deviation of what a good item draws from what was computed, as a share.
    pub tolerance: f64,
    /// How probable a false alarm may be in a whole survey.
    pub false_alarm: f64,
    /// How probable it may be that a dead item is missed.
    pub miss: f64,
    /// Whether weak items must be found as well: with a lack of 20 % that takes 25 times as many
    /// readings. If not, one that is found on the way is told all the same.
    pub weak: bool,
    /// The share of its current below which an item is weak.
    pub weak_below: f64,
    /// The shortest time a pattern may be held; never less than [`LEAST_HOLD_S`](super::LEAST_HOLD_S).
    pub least_hold_s: f64,
    /// How long it takes from the end of one pattern until the next is surely on show.
    pub change_s: f64,
    /// When to give up.
    pub most_s: f64,
    /// The same seed lights the same patterns.
    pub seed: u64,
}

impl Default for SurveySpec {
    fn default() -> Self {
        Self {
            items: Vec::new(),
            sensors: Vec::new(),
            rooms: Vec::new(),
            tolerance: 0.03,
            false_alarm: 1e-3,
            miss: 1e-3,
            weak: false,
            weak_below: 0.85,
            least_hold_s: super::LEAST_HOLD_S,
            change_s: 0.0,
            most_s: 600.0,
            seed: 1,
        }
    }
}

/// Why a survey can't be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NotPossible {
    /// Nothing that may be lit is seen by any sensor.
    #[error(
        "no sensor sees anything that may be lit: add a sensor to the floor file, or survey by eye"
    )]
    NothingToSee,
    /// A number that makes no sense.
    #[error("{what} {number}: {wrong}")]
    Nonsense {
        /// An item, a sensor, a room.
        what: &'static str,
        /// Which, counted from 0.
        number: usize,
        /// What is wrong.
        wrong: &'static str,
    },
}

impl SurveySpec {
    /// The least lack that has to be found.
    pub(super) fn sought_lack(&self) -> f64 {
        if self.weak {
            1.0 - self.weak_below
        } else {
            1.0
        }
    }

    pub(super) fn check(&self) -> Result<(), NotPossible> {
        let nonsense = |what, number, wrong| {
            Err(NotPossible::Nonsense {
                what,
                number,
                wrong,
            })
        };
        let positive = |value: f64| value.is_finite() && value > 0.0;
        let not_negative = |value: f64| value.is_finite() && value >= 0.0;
        for (number, item) in self.items.iter().enumerate() {
            if !not_negative(item.full_a) {
                return nonsense(
                    "item",
                    number,
                    "its current must be a number that is not negative",
                );
            }
            if item
                .sensors
                .iter()
                .any(|&sensor| usize::from(sensor) >= self.sensors.len())
            {
                return nonsense("item", number, "it names a sensor that is not there");
            }
        }
        for (number, sensor) in self.sensors.iter().enumerate() {
            if !positive(sensor.factor) || !positive(sensor.every_s) {
                return nonsense(
                    "sensor",
                    number,
                    "its factor and its period must be positive",
                );
            }
            let others = [
                sensor.noise_a,
                sensor.step_a,
                sensor.gain_sd,
                sensor.offset_sd_a,
                sensor.drift_a,
                sensor.lag_s,
                sensor.stays_s,
            ];
            let known = sensor.noise_from > 0.0;
            if !known || !others.into_iter().all(not_negative) || !sensor.idle_a.is_finite() {
                return nonsense(
                    "sensor",
                    number,
                    "its figures must be numbers, none of them negative",
                );
            }
        }
        for (number, room) in self.rooms.iter().enumerate() {
            if room.room_a.is_nan() {
                return nonsense("room", number, "what is left must be a number");
            }
            if room
                .items
                .iter()
                .any(|&item| item as usize >= self.items.len())
            {
                return nonsense("room", number, "it names an item that is not there");
            }
        }
        let chances = [self.tolerance, self.false_alarm, self.miss];
        if !chances
            .into_iter()
            .all(|chance| positive(chance) && chance < 1.0)
        {
            return nonsense(
                "survey",
                0,
                "tolerance and error rates must lie between 0 and 1",
            );
        }
        if !(0.3..=0.95).contains(&self.weak_below)
            || !positive(self.most_s)
            || !not_negative(self.least_hold_s)
            || !not_negative(self.change_s)
        {
            return nonsense("survey", 0, "its times or its bound of weak make no sense");
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn noise_is_pooled_over_patterns() {
        // Two patterns read 1, 2, 3 and 10, 14 A: sums of squares 2 and 8 of 3 degrees of freedom; with 2
        // of variance 1 before, that is (2 + 2 + 8) / 5 = 2.4 (pooled variance, textbook).
        let mut sensor = SurveySensor {
            noise_a: 1.0,
            noise_from: 2.0,
            ..SurveySensor::default()
        };
        sensor.hear_noise(2.0, 2.0);
        sensor.hear_noise(8.0, 1.0);
        sensor.hear_noise(0.0, 0.0);
        assert!((sensor.noise_a.powi(2) - 2.4).abs() < 1e-12);
        assert!((sensor.noise_from - 5.0).abs() < 1e-12);
        // What few readings say may be too little: √(2/5) more, the standard deviation of χ²/5.
        assert!((sensor.variance(4.0) - 2.4 / 4.0 * (1.0 + 0.4_f64.sqrt())).abs() < 1e-12);
        // One that is known does not learn.
        let mut known = SurveySensor {
            noise_a: 1.0,
            ..SurveySensor::default()
        };
        known.hear_noise(100.0, 3.0);
        assert!((known.variance(4.0) - 0.25).abs() < 1e-12);
    }
}
