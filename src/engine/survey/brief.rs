//! What a survey has to know of the engine when it begins.

use super::super::Engine;
use crate::floor::model::Quantity;
use crate::pattern::Refused;
use crate::power::meter::Verdict;
use crate::power::tree::{ElementIndex, Tree};
use crate::units::Time;

/// Sensors that report less often are too slow: a survey of some hundred lights would take hours.
pub const MOST_EVERY_S: f64 = 5.0;

/// So many standard deviations beside what it should say in the dark, a sensor says something else.
pub const BESIDE: f64 = 4.0;

/// What a calibrated sensor's offset may wander by later, as a share of the most that its place draws;
/// without calibration it is what any sensor may waver by (common practice, no source).
const CALIBRATED_OFFSET: f64 = 0.0025;

/// One sensor, as far as a survey cares.
#[derive(Debug, Clone, PartialEq)]
pub struct SensorBrief {
    /// What it measures at.
    pub element: ElementIndex,
    /// Why it can't take part.
    pub unfit: Option<&'static str>,
    /// Whether a calibration run taught how it differs from what is computed.
    pub calibrated: bool,
    /// What it should say when all is dark: as a calibration run learnt, or as is computed.
    pub idle_a: f64,
    /// How far it may be beside that, as a standard deviation.
    pub offset_sd_a: f64,
    /// Which share of its readings differed from the one before while all was dark.
    pub wavers: f64,
}

impl SensorBrief {
    /// Whether it says no more than flows where nothing is lit, or less.
    pub fn is_idle(&self, value_a: f64) -> bool {
        let beside_a = BESIDE * self.offset_sd_a;
        (-beside_a..=self.idle_a + beside_a).contains(&value_a)
    }
}

/// What a survey has to know of the engine when it begins.
#[derive(Debug, Clone)]
pub struct Brief {
    /// Revision of the floor.
    pub revision: u32,
    /// The tree with its limits as they are now, live ones too.
    pub tree: Tree,
    /// In the order of the floor's sensors.
    pub sensors: Vec<SensorBrief>,
    /// For each universe that leaves whether its node no longer answers.
    pub silent: Vec<bool>,
    /// Uptime at the beginning, in seconds.
    pub uptime_s: f64,
}

impl PartialEq for Brief {
    fn eq(&self, other: &Self) -> bool {
        (self.revision, &self.sensors, &self.silent)
            == (other.revision, &other.sensors, &other.silent)
            && self.tree.elements == other.tree.elements
    }
}

impl Engine {
    /// What a survey has to know that begins now.
    pub(super) fn survey_brief(&self, now: Time) -> Brief {
        let verdicts = self.metering.verdicts(now);
        let known = self.metering.known();
        let sensors = self.floor.sensors.iter().zip(verdicts).zip(known);
        let tree = self.limiter.tree();
        let sensors = sensors.map(|((sensor, verdict), (element, watch, fit))| {
            let computed_a = tree.elements[element as usize].idle.amps().0;
            let most_a = watch.spec().most;
            let mut brief = SensorBrief {
                element,
                unfit: None,
                calibrated: fit.is_some(),
                idle_a: fit.map_or(computed_a, |fit| fit.idle_a),
                offset_sd_a: fit.map_or(watch.spec().noise(), |_| CALIBRATED_OFFSET * most_a),
                wavers: watch.wavers(),
            };
            // It may be that nothing flows because all is dead: the survey will tell.
            let idle = watch.last().is_some_and(|last| brief.is_idle(last.value));
            brief.unfit = match (sensor.quantity, verdict) {
                (Quantity::Voltage, _) => Some("measures volts"),
                (_, Verdict::Waiting | Verdict::Silent) => Some("is silent"),
                (_, Verdict::Frozen) if !idle => Some("says the same again and again"),
                (_, Verdict::Absurd) => Some("says what can't be"),
                _ if sensor.every_s > MOST_EVERY_S => Some("reports too seldom"),
                _ => None,
            };
            brief
        });
        Brief {
            revision: self.revision,
            sensors: sensors.collect(),
            tree: self.limiter.tree().clone(),
            silent: self.outs().map(|out| self.limiter.silent(out)).collect(),
            uptime_s: now.s_since(self.started),
        }
    }

    /// Why sensors can't do a survey now.
    pub(super) fn no_sensor(&self, brief: &Brief) -> Option<Refused> {
        if brief.sensors.iter().any(|sensor| sensor.unfit.is_none()) {
            return None;
        }
        let told = self.floor.sensors.iter().zip(&brief.sensors);
        let told = told.filter_map(|(of, sensor)| Some((of, sensor.unfit?)));
        let told: Vec<String> = told
            .filter(|(of, _)| of.quantity == Quantity::Current)
            .map(|(of, why)| format!("{} {why}", of.name))
            .collect();
        if told.is_empty() {
            let text = "The floor has no sensor of current: add a [[sensor]] to the floor file, or \
                        let a person look, with \"by\": \"eyes\".";
            return Some(Refused::new("no_sensor", text));
        }
        let text = format!(
            "No sensor can do a survey now: {}. It takes one that reports at least every \
             {MOST_EVERY_S} s. See that it does, or let a person look, with \"by\": \"eyes\".",
            told.join("; ")
        );
        Some(Refused::new("no_sensor", text))
    }
}
