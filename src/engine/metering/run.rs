//! A calibration run: all dark, then each colour and white at half and at full.
//!
//! The light is a test pattern like any other, so every limit is kept. Each step is held for some
//! seconds: no flash.

use super::super::Engine;
use super::super::command::Command;
use super::super::out::Outlet;
use super::Kept;
use crate::floor::model::Quantity;
use crate::pattern::{Light, Start, TestPattern};
use crate::power::meter::{Computed, Sample, Unfit, Verdict, calibration};
use crate::units::Time;

/// Light of the steps: colour and level.
const STEPS: [(Light, u8); 9] = [
    (Light::White, 0),
    (Light::Red, 128),
    (Light::Red, 255),
    (Light::Green, 128),
    (Light::Green, 255),
    (Light::Blue, 128),
    (Light::Blue, 255),
    (Light::White, 128),
    (Light::White, 255),
];

/// Time at the beginning of a step in which nothing counts yet, besides a sensor's own period:
/// factors are let up, brokers pass on.
const SETTLE_MS: u64 = 2_500;

/// Time that counts, and at least so many of a sensor's periods.
const COUNTS_MS: u64 = 2_500;
const COUNTS_PERIODS: f64 = 2.5;

/// Sensors that report less often are not waited for.
const MOST_EVERY_S: u32 = 10;

/// Why a run does not begin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotBegun {
    /// The floor has no sensor of current that reports.
    NoSensor,
    /// One is under way.
    Running,
    /// A survey is.
    Surveying,
    /// The floor is only watched.
    Watched,
}

/// What a run taught of one sensor.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// Its name.
    pub sensor: String,
    /// Why nothing; nothing if it is calibrated.
    pub refused: Option<String>,
}

/// What is added up of one sensor during a step.
#[derive(Debug, Clone, Default)]
struct Sums {
    computed: Vec<Computed>,
    measured: Vec<f64>,
}

#[derive(Debug)]
struct Learning {
    sums: Sums,
    samples: Vec<Sample>,
    unfit: Option<Unfit>,
}

/// A run that is under way.
#[derive(Debug)]
pub(in crate::engine) struct Run {
    step: usize,
    since: Time,
    settle_ms: u64,
    hold_ms: u64,
    order: Start,
    /// In the order of the floor's sensors; those that can't be calibrated have nothing.
    sensors: Vec<Option<Learning>>,
}

impl Run {
    pub(super) const fn step(&self) -> usize {
        self.step
    }

    pub(super) const fn steps() -> usize {
        STEPS.len()
    }

    /// Seconds until it ends.
    pub(super) fn ends_in_s(&self, now: Time) -> f64 {
        let left = u64::try_from(STEPS.len() - self.step).unwrap_or(0) * self.hold_ms;
        self.since.plus_ms(left).s_since(now)
    }

    fn counts(&self, now: Time) -> bool {
        now >= self.since.plus_ms(self.settle_ms)
    }

    /// A sensor said something.
    pub(super) fn read(&mut self, sensor: usize, value: f64, verdict: Verdict, now: Time) {
        let counts = self.counts(now);
        let Some(Some(learning)) = self.sensors.get_mut(sensor) else {
            return;
        };
        match verdict {
            Verdict::Absurd => learning.unfit = Some(Unfit::Untrusted("absurd")),
            Verdict::Frozen => learning.unfit = Some(Unfit::Untrusted("frozen")),
            _ if counts => learning.sums.measured.push(value),
            _ => {}
        }
    }

    fn order(step: usize, hold_ms: u64) -> Start {
        let (colour, level) = STEPS[step];
        Start {
            colour,
            level,
            lasts_s: u32::try_from(hold_ms / 1_000 + 5).unwrap_or(u32::MAX),
            ..Start::new(TestPattern::All)
        }
    }

    /// Makes a sample of each sensor's step.
    fn end_step(&mut self) {
        for learning in self.sensors.iter_mut().flatten() {
            let sums = std::mem::take(&mut learning.sums);
            if sums.measured.is_empty() || sums.computed.is_empty() {
                let silent = || Unfit::Untrusted("silent");
                learning.unfit.get_or_insert_with(silent);
                continue;
            }
            learning.samples.push(Sample {
                computed: mean_of(&sums.computed),
                measured_a: mean(sums.measured.iter().copied()),
            });
        }
    }
}

#[expect(clippy::cast_precision_loss, reason = "a count of a few seconds")]
fn mean(values: impl ExactSizeIterator<Item = f64>) -> f64 {
    let count = values.len() as f64;
    values.sum::<f64>() / count
}

fn mean_of(all: &[Computed]) -> Computed {
    Computed {
        idle_a: mean(all.iter().map(|one| one.idle_a)),
        colours_a: std::array::from_fn(|colour| mean(all.iter().map(|one| one.colours_a[colour]))),
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a period of the floor file, a minute at most"
)]
fn ms(s: f64) -> u64 {
    (s * 1e3).clamp(0.0, 600_000.0) as u64
}

impl Engine {
    /// Begins a run; the light of its first step is shown at once.
    pub(in crate::engine) fn begin_calibration(
        &mut self,
        now: Time,
        outlet: &mut impl Outlet,
    ) -> Result<(), NotBegun> {
        if self.floor.nodes.is_empty() {
            return Err(NotBegun::Watched);
        }
        if self.metering.run.is_some() {
            return Err(NotBegun::Running);
        }
        if self.surveys.is_running() {
            return Err(NotBegun::Surveying);
        }
        let of_current = |(at, sensor): (usize, &crate::floor::model::Sensor)| {
            let verdict = self.metering.sensors[at].watch.verdict(now);
            let reports = !matches!(verdict, Verdict::Waiting | Verdict::Silent);
            (sensor.quantity == Quantity::Current).then(|| {
                let unfit = if sensor.every_s > f64::from(MOST_EVERY_S) {
                    Some(Unfit::TooSeldom(MOST_EVERY_S))
                } else {
                    (!reports).then_some(Unfit::Untrusted("silent"))
                };
                Learning {
                    sums: Sums::default(),
                    samples: Vec::new(),
                    unfit,
                }
            })
        };
        let sensors = self.floor.sensors.iter().enumerate();
        let sensors: Vec<Option<Learning>> = sensors.map(of_current).collect();
        let waited_for = sensors.iter().zip(&self.floor.sensors);
        let slowest_s = waited_for
            .filter(|(learning, _)| learning.as_ref().is_some_and(|one| one.unfit.is_none()))
            .map(|(_, sensor)| sensor.every_s)
            .fold(None, |most: Option<f64>, s| {
                Some(most.map_or(s, |most| most.max(s)))
            });
        let Some(slowest_s) = slowest_s else {
            return Err(NotBegun::NoSensor);
        };
        let settle_ms = SETTLE_MS + ms(slowest_s);
        let hold_ms = settle_ms + COUNTS_MS.max(ms(slowest_s * COUNTS_PERIODS));
        let run = Run {
            step: 0,
            since: now,
            settle_ms,
            hold_ms,
            order: Run::order(0, hold_ms),
            sensors,
        };
        if self
            .command(now, Command::Start(run.order.clone()), outlet)
            .is_err()
        {
            return Err(NotBegun::Watched);
        }
        self.metering.run = Some(run);
        Ok(())
    }

    /// Someone wants the run to end.
    pub(in crate::engine) fn stop_calibration(&mut self, now: Time, outlet: &mut impl Outlet) {
        if let Some(run) = self.metering.run.take() {
            self.end_calibration(&run, "the run was stopped");
            let _ = self.command(now, Command::Withdraw(run.order), outlet);
        }
    }

    /// Keeps in mind that a run taught nothing.
    pub(super) fn end_calibration(&mut self, run: &Run, why: &str) {
        let of_run = run.sensors.iter().zip(&self.floor.sensors);
        self.metering.outcomes = of_run
            .filter(|(learning, _)| learning.is_some())
            .map(|(_, sensor)| Outcome {
                sensor: sensor.name.clone(),
                refused: Some(why.to_owned()),
            })
            .collect();
        self.metering.ended += 1;
    }

    /// Goes on with the run that is under way.
    pub(super) fn run_calibration(
        &mut self,
        computed: &[Computed],
        now: Time,
        outlet: &mut impl Outlet,
    ) {
        let Some(mut run) = self.metering.run.take() else {
            return;
        };
        if !self.shows(&run.order) {
            self.end_calibration(&run, "another light was ordered meanwhile");
            return;
        }
        if run.counts(now) {
            for (learning, computed) in run.sensors.iter_mut().zip(computed) {
                if let Some(learning) = learning {
                    learning.sums.computed.push(*computed);
                }
            }
        }
        if now >= run.since.plus_ms(run.hold_ms) {
            run.end_step();
            run.step += 1;
            if run.step == STEPS.len() {
                let order = run.order.clone();
                self.learn(run);
                let _ = self.command(now, Command::Withdraw(order), outlet);
                return;
            }
            run.since = now;
            run.order = Run::order(run.step, run.hold_ms);
            if self
                .command(now, Command::Start(run.order.clone()), outlet)
                .is_err()
            {
                self.end_calibration(&run, "its light could not be shown");
                return;
            }
        }
        self.metering.run = Some(run);
    }

    fn learn(&mut self, run: Run) {
        let mut outcomes = Vec::new();
        let of_run = run.sensors.into_iter().zip(&self.floor.sensors).enumerate();
        for (at, (learning, sensor)) in of_run {
            let Some(learning) = learning else { continue };
            let metered = &mut self.metering.sensors[at];
            let noise_a = metered.watch.spec().noise();
            let tolerance = metered.watch.spec().tolerance;
            let fitted = match learning.unfit {
                Some(unfit) => Err(unfit),
                None => calibration::fit(&learning.samples, tolerance, noise_a),
            };
            let refused = fitted.as_ref().err().map(ToString::to_string);
            if let Ok(fit) = fitted {
                metered.fit = Some(fit);
                metered.watch.calibrated();
            }
            outcomes.push(Outcome {
                sensor: sensor.name.clone(),
                refused,
            });
        }
        self.metering.outcomes = outcomes;
        self.metering.ended += 1;
        self.set_live_limits();
    }

    /// All calibrations, to be kept.
    pub fn calibrations(&self) -> Vec<Kept> {
        let sensors = self.metering.sensors.iter().zip(&self.floor.sensors);
        sensors
            .filter_map(|(metered, sensor)| {
                Some(Kept::new(
                    &sensor.name,
                    &metered.place,
                    metered.fit.as_ref()?,
                ))
            })
            .collect()
    }
}
