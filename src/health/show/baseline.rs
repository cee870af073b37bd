//! What a floor is like when it is whole: learnt once, so that what lacks later stands out.

use serde::{Deserialize, Serialize};

use super::spec::ShowSpec;

/// Gain and offset of each sensor and the share of each item, each with its standard deviation.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Baseline {
    /// Of each sensor.
    pub sensors: Vec<SensorBase>,
    /// Of each item.
    pub items: Vec<ItemBase>,
}

/// How one sensor errs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SensorBase {
    /// Amperes read for one ampere of computed current, times the sensor's factor.
    pub gain: f64,
    /// Standard deviation of that.
    pub gain_sd: f64,
    /// What it reads in the dark beyond what it should, in amperes of items.
    pub offset_a: f64,
    /// Standard deviation of that, from one half minute to another.
    pub offset_sd_a: f64,
    /// How much earlier than it is said its readings are of.
    pub late_s: f64,
    /// Standard deviation of that, from one reading to another.
    pub late_sd_s: f64,
    /// By how much the variance of its readings is greater than that of noise, for what a model does not
    /// know: 1 or more.
    pub excess: f64,
}

/// Before anything was read, for caution: our choice.
const EXCESS_UNKNOWN: f64 = 4.0;

/// Nothing was learnt: anything within 50 ms either way, as likely as any other.
pub(super) const LATE_UNKNOWN_S: f64 = 0.029;
/// What is left when it was: frames are 23 to 40 ms apart, and a reading falls anywhere between.
pub(super) const LATE_KNOWN_S: f64 = 0.012;

/// What one item draws when it is good.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ItemBase {
    /// Of what was computed.
    pub share: f64,
    /// Standard deviation of that.
    pub sd: f64,
}

impl Baseline {
    /// What is known before anything was learnt.
    pub fn unknown(spec: &ShowSpec) -> Self {
        let sensors = spec.sensors.iter().map(|sensor| SensorBase {
            gain: 1.0,
            gain_sd: sensor.gain_sd,
            offset_a: 0.0,
            offset_sd_a: sensor.offset_sd_a / sensor.factor,
            late_s: 0.0,
            late_sd_s: LATE_UNKNOWN_S,
            excess: EXCESS_UNKNOWN,
        });
        let item = ItemBase {
            share: 1.0,
            sd: spec.tolerance,
        };
        Self {
            sensors: sensors.collect(),
            items: vec![item; spec.items.len()],
        }
    }

    /// Whether it belongs to this floor, and its numbers make sense.
    pub fn fits(&self, spec: &ShowSpec) -> bool {
        let positive = |value: f64| value.is_finite() && value > 0.0;
        self.sensors.len() == spec.sensors.len()
            && self.items.len() == spec.items.len()
            && self.sensors.iter().all(|sensor| {
                positive(sensor.gain)
                    && positive(sensor.gain_sd)
                    && sensor.offset_a.is_finite()
                    && positive(sensor.offset_sd_a)
                    && sensor.late_s.abs() < 1.0
                    && positive(sensor.late_sd_s)
                    && sensor.excess >= 1.0
                    && sensor.excess.is_finite()
            })
            && self
                .items
                .iter()
                .all(|item| positive(item.share) && positive(item.sd))
    }
}
