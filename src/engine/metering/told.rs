//! What people are told of sensors.

use super::super::Engine;
use super::super::snapshot::{
    CalibrationOutcome, CalibrationState, SensorCalibration, SensorState, SensorVerdict,
};
use super::{Metered, Run};
use crate::floor::model::{Colour, Quantity, Sensor};
use crate::power::meter::{Computed, Fit, Side, Verdict};
use crate::units::Time;

impl Engine {
    /// Every sensor, in the floor's order.
    pub(in crate::engine) fn sensor_states(&self, now: Time) -> Vec<SensorState> {
        let any_fit = self.metering.sensors.iter().any(|one| one.fit.is_some());
        let computed = any_fit.then(|| self.computed());
        let sensors = self.metering.sensors.iter().zip(&self.floor.sensors);
        let states = sensors.enumerate().map(|(at, (metered, sensor))| {
            let of_place = computed.as_ref().map(|all| &all[at]);
            self.sensor_state(at, metered, sensor, of_place, now)
        });
        states.collect()
    }

    fn sensor_state(
        &self,
        at: usize,
        metered: &Metered,
        sensor: &Sensor,
        of_place: Option<&Computed>,
        now: Time,
    ) -> SensorState {
        let last = metered.watch.last();
        let measured = last
            .map(|last| last.value)
            .filter(|value| value.is_finite());
        let expected = self.expected(at, of_place);
        let current = sensor.quantity == Quantity::Current;
        let live_a = self.limiter.live_limit(metered.element);
        let difference = measured.zip(expected).and_then(|(measured, expected)| {
            let large = expected.abs() > metered.watch.spec().noise();
            large.then(|| (measured / expected - 1.0) * 100.0)
        });
        SensorState {
            name: sensor.name.clone(),
            place: metered.place.clone(),
            quantity: if current { "current" } else { "voltage" }.to_owned(),
            state: verdict(metered.watch.verdict(now)),
            measured,
            computed: if current {
                Some(self.limiter.reading(metered.element).sent.amps().0)
            } else {
                expected
            },
            expected,
            difference_percent: difference,
            tolerance_percent: sensor.tolerance_percent,
            age_s: last.map(|last| now.s_since(last.at)),
            live_limit_a: live_a.filter(|_| current).map(|a| a.amps().0),
            stricter: metered.watch.is_strict(),
            calibration: metered.fit.as_ref().map(calibrated),
        }
    }

    /// The run that is under way, or what became of the last one.
    pub(in crate::engine) fn calibration_state(&self, now: Time) -> CalibrationState {
        let count = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
        let run = self.metering.run.as_ref();
        let outcomes = self
            .metering
            .outcomes
            .iter()
            .map(|outcome| CalibrationOutcome {
                sensor: outcome.sensor.clone(),
                refused: outcome.refused.clone(),
            });
        CalibrationState {
            running: run.is_some(),
            step: run.map_or(0, |run| count(run.step())),
            steps: count(Run::steps()),
            ends_in_s: run.map_or(0.0, |run| run.ends_in_s(now)),
            ended: self.metering.ended,
            outcomes: outcomes.collect(),
        }
    }
}

const fn verdict(verdict: Verdict) -> SensorVerdict {
    match verdict {
        Verdict::Waiting => SensorVerdict::Waiting,
        Verdict::Good => SensorVerdict::Good,
        Verdict::Silent => SensorVerdict::Silent,
        Verdict::Frozen => SensorVerdict::Frozen,
        Verdict::Absurd => SensorVerdict::Absurd,
        Verdict::Apart(Side::Above) => SensorVerdict::ApartAbove,
        Verdict::Apart(Side::Below) => SensorVerdict::ApartBelow,
    }
}

fn calibrated(fit: &Fit) -> SensorCalibration {
    let named = Colour::ALL.iter().zip(fit.gains);
    SensorCalibration {
        idle_a: fit.idle_a,
        gains: named
            .filter_map(|(colour, gain)| Some((colour.name().to_owned(), gain?)))
            .collect(),
        residual_a: fit.residual_a,
        above_a: fit.above_a,
    }
}
