//! A simulated sensor of current, with the faults that real ones have.

use super::link::Chance;
use crate::units::Time;

/// What is wrong with it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    /// It says nothing.
    Silent,
    /// It says the same again and again.
    Frozen,
    /// It says what can't be.
    Absurd,
}

/// One sensor.
#[derive(Debug, Clone)]
pub struct SimSensor {
    chance: Chance,
    every_ms: u64,
    next: Time,
    /// Its error, as a share: ± so much of what it measures.
    noise: f64,
    fault: Option<(Fault, Time)>,
    last: f64,
}

impl SimSensor {
    /// One that reports every so many milliseconds, and is off by `noise` of its value at most.
    pub const fn new(seed: u64, every_ms: u64, noise: f64) -> Self {
        Self {
            chance: Chance::new(seed),
            every_ms,
            next: Time(0),
            noise,
            fault: None,
            last: 0.0,
        }
    }

    /// Something is wrong with it until then.
    pub const fn fails(&mut self, fault: Fault, until: Time) {
        self.fault = Some((fault, until));
    }

    /// Whether something is wrong with it.
    pub const fn failing(&self) -> bool {
        self.fault.is_some()
    }

    /// Whether a reading is due: only then is `true_a` worth finding out.
    pub fn due(&self, now: Time) -> bool {
        now >= self.next
    }

    /// What it says, if it says something now.
    pub fn read(&mut self, true_a: f64, now: Time) -> Option<f64> {
        if !self.due(now) {
            return None;
        }
        self.next = now.plus_ms(self.every_ms);
        if self.fault.is_some_and(|(_, until)| now >= until) {
            self.fault = None;
        }
        let wavers = 1.0 + self.noise * (2.0 * self.chance.share() - 1.0);
        match self.fault.map(|(fault, _)| fault) {
            Some(Fault::Silent) => None,
            Some(Fault::Frozen) => Some(self.last),
            Some(Fault::Absurd) => Some(match self.chance.up_to(3) {
                0 => f64::NAN,
                1 => -7.0,
                2 => 1e9,
                _ => f64::INFINITY,
            }),
            None => {
                // In whole milliamperes, as such sensors report.
                self.last = (true_a * wavers * 1e3).round() / 1e3;
                Some(self.last)
            }
        }
    }
}
