//! What a survey has to know of the engine when it begins.

use super::super::Engine;
use crate::floor::model::Quantity;
use crate::pattern::Refused;
use crate::power::meter::Verdict;
use crate::power::tree::{ElementIndex, Tree};
use crate::units::Time;

/// Sensors that report less often are too slow: a survey of some hundred lights would take hours.
pub const MOST_EVERY_S: f64 = 5.0;

/// One sensor, as far as a survey cares.
#[derive(Debug, Clone, PartialEq)]
pub struct SensorBrief {
    /// What it measures at.
    pub element: ElementIndex,
    /// Why it can't take part.
    pub unfit: Option<&'static str>,
    /// Whether a calibration run taught how it differs from what is computed.
    pub calibrated: bool,
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
        let elements = self.metering.elements();
        let sensors = self.floor.sensors.iter().zip(verdicts).zip(elements);
        let sensors = sensors.map(|((sensor, verdict), (element, calibrated))| {
            let unfit = match (sensor.quantity, verdict) {
                (Quantity::Voltage, _) => Some("measures volts"),
                (_, Verdict::Waiting | Verdict::Silent) => Some("is silent"),
                (_, Verdict::Frozen) => {
                    Some("says the same again and again: it is frozen, or all that it sees is dead")
                }
                (_, Verdict::Absurd) => Some("says what can't be"),
                _ if sensor.every_s > MOST_EVERY_S => Some("reports too seldom"),
                _ => None,
            };
            SensorBrief {
                element,
                unfit,
                calibrated,
            }
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
