//! A simulated sensor of current, with the errors and the faults that real ones have.

use std::collections::VecDeque;

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

/// How it errs, in amperes unless it says otherwise. In this order: what it measures is old by
/// `late_ms`; × (1 + `gain`) + `offset_a` + drift + noise; held within ± `most_a`; rounded to
/// `step_a`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Errors {
    /// Even noise, as a share: ± so much of what it measures.
    pub wavers: f64,
    /// Standard deviation of its Gaussian noise, new in every reading.
    pub noise_a: f64,
    /// How far its gain is off, as a share.
    pub gain: f64,
    /// What it says when nothing flows.
    pub offset_a: f64,
    /// How far its offset walks by chance: the standard deviation after one second; √t times that
    /// after t.
    pub drift_a: f64,
    /// Its resolution; 0: endless.
    pub step_a: f64,
    /// The most that it can say.
    pub most_a: f64,
    /// How old what it says is, in milliseconds.
    pub late_ms: u64,
}

impl Default for Errors {
    /// None, but that it reports in whole milliamperes.
    fn default() -> Self {
        Self {
            wavers: 0.0,
            noise_a: 0.0,
            gain: 0.0,
            offset_a: 0.0,
            drift_a: 0.0,
            step_a: 1e-3,
            most_a: f64::INFINITY,
            late_ms: 0,
        }
    }
}

/// One sensor.
#[derive(Debug, Clone)]
pub struct SimSensor {
    chance: Chance,
    every_ms: u64,
    next: Time,
    errors: Errors,
    fault: Option<(Fault, Time)>,
    last: f64,
    drifted_a: f64,
    drifted_at: Option<Time>,
    /// What flowed and when, oldest first; the first is old enough.
    line: VecDeque<(Time, f64)>,
}

impl SimSensor {
    /// One that reports every so many milliseconds, and is off by `noise` of its value at most.
    pub fn new(seed: u64, every_ms: u64, noise: f64) -> Self {
        let wavers = Errors {
            wavers: noise,
            ..Errors::default()
        };
        Self::with(seed, every_ms, wavers)
    }

    /// One that reports every so many milliseconds, and errs so.
    pub const fn with(seed: u64, every_ms: u64, errors: Errors) -> Self {
        Self {
            chance: Chance::new(seed),
            every_ms,
            next: Time(0),
            errors,
            fault: None,
            last: 0.0,
            drifted_a: 0.0,
            drifted_at: None,
            line: VecDeque::new(),
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

    /// Whether a reading is due: only then is `true_a` worth finding out, unless it is late.
    pub fn due(&self, now: Time) -> bool {
        now >= self.next
    }

    /// What it says, if it says something now. One that is late is told what flows as often as that
    /// is known, and says what it was told last at least so long ago.
    pub fn read(&mut self, true_a: f64, now: Time) -> Option<f64> {
        let felt_a = self.felt(true_a, now);
        if !self.due(now) {
            return None;
        }
        self.next = now.plus_ms(self.every_ms);
        if self.fault.is_some_and(|(_, until)| now >= until) {
            self.fault = None;
        }
        let said = self.says(felt_a, now);
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
                self.last = said;
                Some(said)
            }
        }
    }

    /// What flowed `late_ms` ago, as far as it was told.
    fn felt(&mut self, true_a: f64, now: Time) -> f64 {
        if self.errors.late_ms == 0 {
            return true_a;
        }
        self.line.push_back((now, true_a));
        let old = |at: Time| now.us_since(at) >= self.errors.late_ms * 1_000;
        while self.line.get(1).is_some_and(|&(at, _)| old(at)) {
            self.line.pop_front();
        }
        self.line.front().map_or(true_a, |&(_, felt_a)| felt_a)
    }

    fn says(&mut self, felt_a: f64, now: Time) -> f64 {
        let wavers = 1.0 + self.errors.wavers * (2.0 * self.chance.share() - 1.0);
        let Errors {
            noise_a,
            gain,
            offset_a,
            drift_a,
            step_a,
            most_a,
            ..
        } = self.errors;
        let passed_s = self.drifted_at.map_or(0.0, |at| now.s_since(at));
        self.drifted_at = Some(now);
        // Only what it has costs numbers of its chance.
        if drift_a > 0.0 {
            self.drifted_a += drift_a * passed_s.sqrt() * self.chance.normal();
        }
        let mut said = felt_a * wavers * (1.0 + gain) + offset_a + self.drifted_a;
        if noise_a > 0.0 {
            said += noise_a * self.chance.normal();
        }
        said = said.clamp(-most_a, most_a);
        if step_a > 0.0 {
            // By whole steps of an ampere, where there are some, 3.32 stays 3.32.
            let steps_an_a = 1.0 / step_a;
            said = (said * steps_an_a).round() / steps_an_a;
        }
        said
    }
}

#[cfg(test)]
mod tests;
