//! What a survey is told: what was felt of the sensors, what items draw, where limits bind.

use super::brief::Brief;
use super::feel::Felt;
use super::items::Items;
use super::rooms;
use crate::floor::Floor;
use crate::health::survey::{Room, SurveyItem, SurveySensor, SurveySpec};

/// Each light is on show for so long at least, for people may look: three lights in a second are three
/// flashes at most, even where what falls leaves a moment before what rises (WCAG 2.2, success
/// criterion 2.3.1 allows three).
pub(super) const LEAST_HOLD_S: f64 = 0.33;

/// A survey that takes longer ends with what it knows.
const MOST_S: f64 = 1_200.0;

/// How far segments may be from what the file says of them, as a standard deviation (common
/// practice, no source: strip of one reel varies by some per cent).
const TOLERANCE: f64 = 0.03;

/// False alarms in a survey, and dead segments that are missed.
const FALSE_ALARM: f64 = 1e-3;
const MISS: f64 = 1e-3;

/// How far a sensor may be off by a factor: after a calibration, and at most without.
const CALIBRATED_GAIN_SD: f64 = 0.01;
const MOST_GAIN_SD: f64 = 0.05;

/// The survey gives a sensor so many of its time constants to settle.
const SETTLED: f64 = 4.0;

/// What a survey is made of.
#[derive(Debug)]
pub(super) struct Weighed<'a> {
    pub(super) floor: &'a Floor,
    pub(super) brief: &'a Brief,
    pub(super) items: &'a Items,
    /// What each item draws when lit.
    pub(super) full_a: &'a [f64],
    /// Items that are weighed.
    pub(super) chosen: &'a [usize],
    pub(super) rooms: &'a [Room],
    /// The floor's index of each sensor that takes part, and what it is like.
    pub(super) felt: &'a [(usize, Felt)],
    /// Whether weak ones are to be found as well.
    pub(super) weak: bool,
    /// How long it takes until a light is surely on show.
    pub(super) change_s: f64,
    pub(super) seed: u64,
}

/// What the survey is told of that.
pub(super) fn of(weighed: &Weighed<'_>) -> SurveySpec {
    let sensors = weighed.felt.iter();
    SurveySpec {
        items: weighed.chosen.iter().map(|&at| item(weighed, at)).collect(),
        sensors: sensors
            .map(|(at, felt)| sensor(weighed, *at, felt))
            .collect(),
        rooms: weighed.rooms.to_vec(),
        tolerance: TOLERANCE,
        false_alarm: FALSE_ALARM,
        miss: MISS,
        least_hold_s: (LEAST_HOLD_S - weighed.change_s).max(0.0),
        change_s: weighed.change_s,
        most_s: MOST_S,
        seed: weighed.seed,
        weak: weighed.weak,
        ..SurveySpec::default()
    }
}

fn item(weighed: &Weighed<'_>, at: usize) -> SurveyItem {
    let panel = weighed.items.all[at].panel;
    let sees = |sensor: usize| {
        let element = weighed.brief.sensors[sensor].element;
        rooms::hangs_on(&weighed.brief.tree, panel, element)
    };
    let seen_by = (0_u16..)
        .zip(weighed.felt)
        .filter(|(_, (sensor, _))| sees(*sensor));
    SurveyItem {
        full_a: weighed.full_a[at],
        sensors: seen_by.map(|(index, _)| index).collect(),
    }
}

fn sensor(weighed: &Weighed<'_>, at: usize, felt: &Felt) -> SurveySensor {
    let of = &weighed.floor.sensors[at];
    let brief = &weighed.brief.sensors[at];
    let seen = rooms::seen_at(&weighed.brief.tree, weighed.items, brief.element);
    SurveySensor {
        every_s: of.every_s,
        noise_a: felt.noise_a,
        noise_from: felt.noise_from,
        step_a: felt.step_a,
        gain_sd: if brief.calibrated {
            CALIBRATED_GAIN_SD
        } else {
            (of.tolerance_percent / 100.0).clamp(CALIBRATED_GAIN_SD, MOST_GAIN_SD)
        },
        offset_sd_a: 3.0_f64.mul_add(felt.dark_sd_a, felt.step_a),
        drift_a: felt.drift_a,
        // What was felt is all that it takes to settle.
        lag_s: felt.lag_s / SETTLED,
        stays_s: felt.stays_s,
        idle_a: felt.dark_a,
        factor: seen.ok().flatten().unwrap_or(1.0),
    }
}
