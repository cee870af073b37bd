//! Looks at the show for who weighs it beside the frames: what leaves, what sensors said since the last
//! look, each with its time, and which nodes still answer.

use super::Engine;
use super::sending::Sending;
use crate::floor::model::{Floor, Quantity};
use crate::units::Time;

/// Readings that are kept until somebody looks: a hundred sensors for ten seconds.
const MOST_READINGS: usize = 10_000;

/// Universes of which all slots, 64 KiB, are copied within microseconds.
const SMALL: usize = 128;
/// Time between two looks at a floor of so many, and at a larger one.
const EVERY_MS: u64 = 25;
const EVERY_MS_LARGE: u64 = 100;

/// What one sensor said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SensorRead {
    /// Index into the floor's sensors.
    pub sensor: usize,
    /// In amperes, as it said it.
    pub value_a: f64,
    /// When it came.
    pub at: Time,
}

/// Whether a node answers.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct NodeSeen {
    /// Whether it counts as there.
    pub online: bool,
    /// Its last answer to a poll.
    pub replied: Option<Time>,
}

/// One look.
#[derive(Debug, Clone, Default)]
pub struct Look {
    /// When.
    pub at: Time,
    /// What leaves.
    pub sending: Sending,
    /// What sensors of current said since the last look, in the order in which it came.
    pub readings: Vec<SensorRead>,
    /// Whether a survey or a calibration run lights the floor.
    pub busy: bool,
    /// In the floor's order.
    pub nodes: Vec<NodeSeen>,
}

/// Readings that wait for the next look.
#[derive(Debug)]
pub(super) struct Looks {
    every_ms: Option<u64>,
    readings: Vec<SensorRead>,
}

impl Looks {
    pub(super) fn new(floor: &Floor, outputs: usize) -> Self {
        let mut sensors = floor.sensors.iter();
        let measures = sensors.any(|sensor| sensor.quantity == Quantity::Current);
        let every_ms = if outputs <= SMALL {
            EVERY_MS
        } else {
            EVERY_MS_LARGE
        };
        Self {
            every_ms: measures.then_some(every_ms),
            readings: Vec::new(),
        }
    }

    /// A sensor of current said something. What nobody looks at in time is lost.
    pub(super) fn read(&mut self, sensor: usize, value_a: f64, at: Time) {
        if value_a.is_finite() && self.readings.len() < MOST_READINGS {
            self.readings.push(SensorRead {
                sensor,
                value_a,
                at,
            });
        }
    }
}

impl Engine {
    /// Time between two looks, in milliseconds; nothing without a sensor of current, for then the show tells
    /// nothing. No frame of a console is missed, but on a large floor, where a look costs more.
    pub fn looks_every_ms(&self) -> Option<u64> {
        self.looks.every_ms
    }

    /// What leaves now, and what was said since the last look.
    pub fn look(&mut self, now: Time) -> Look {
        Look {
            at: now,
            sending: self.sending(now),
            readings: std::mem::take(&mut self.looks.readings),
            busy: self.surveys.is_running() || self.metering.is_running(),
            nodes: self.nodes.seen().collect(),
        }
    }
}
