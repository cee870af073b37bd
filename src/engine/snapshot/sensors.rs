//! What measures, as people see it.

use std::collections::BTreeMap;

use serde::Serialize;
use utoipa::ToSchema;

/// Whether a sensor can be believed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SensorVerdict {
    /// It has not said anything yet.
    #[default]
    Waiting,
    /// It says about what it should.
    Good,
    /// It has fallen silent.
    Silent,
    /// It says the very same while the computed current moved.
    Frozen,
    /// It says what can't be.
    Absurd,
    /// More is measured than computed, and has been for some seconds: the cap goes by that.
    ApartAbove,
    /// Less is measured than computed. That changes no limit.
    ApartBelow,
}

/// Something that measures, and what is computed at its place.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct SensorState {
    /// What its readings call it.
    pub name: String,
    /// Where it sits.
    #[schema(example = "supply main")]
    pub place: String,
    /// `current` (in amperes) or `voltage` (in volts).
    #[schema(example = "current")]
    pub quantity: String,
    /// Whether it can be believed.
    pub state: SensorVerdict,
    /// Its last reading, in amperes or volts; nothing if none came or it was no number.
    #[schema(required)]
    pub measured: Option<f64>,
    /// What is computed at its place, of a voltage the nominal one; nothing if that is not known.
    #[schema(required)]
    pub computed: Option<f64>,
    /// The same by its calibration, if it has one: what it should say.
    #[schema(required)]
    pub expected: Option<f64>,
    /// How far measured lies above expected, in per cent; nothing if there is next to nothing.
    #[schema(required)]
    pub difference_percent: Option<f64>,
    /// How far they may be apart, in per cent.
    pub tolerance_percent: f64,
    /// Seconds since its last reading.
    #[schema(required)]
    pub age_s: Option<f64>,
    /// What its place may be computed to draw because of what was measured, in amperes; nothing if
    /// that is no less than its limit.
    #[schema(required)]
    pub live_limit_a: Option<f64>,
    /// Whether it makes its place stricter than its calibration does, for more was measured.
    pub stricter: bool,
    /// What a run taught of it.
    #[schema(required)]
    pub calibration: Option<SensorCalibration>,
}

/// What a place really draws, as a run taught.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SensorCalibration {
    /// With all dark, in amperes.
    pub idle_a: f64,
    /// Real over computed current of each colour.
    pub gains: BTreeMap<String, f64>,
    /// The farthest that a step of the run lay from this, in amperes.
    pub residual_a: f64,
    /// The farthest that one lay above it, in amperes.
    pub above_a: f64,
}

/// A calibration run.
#[derive(Debug, Clone, Default, PartialEq, Serialize, ToSchema)]
pub struct CalibrationState {
    /// Whether one is under way.
    pub running: bool,
    /// Its step, counted from 0.
    pub step: u32,
    /// How many it has.
    pub steps: u32,
    /// Seconds until it ends.
    pub ends_in_s: f64,
    /// How many have ended since the start.
    pub ended: u32,
    /// What the last one taught.
    pub outcomes: Vec<CalibrationOutcome>,
}

/// What a run taught of one sensor.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct CalibrationOutcome {
    /// Its name.
    pub sensor: String,
    /// Why nothing; null if it is calibrated.
    #[schema(required)]
    pub refused: Option<String>,
}
