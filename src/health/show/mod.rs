//! What is dead, from the running show: ordinary content beside what the sensors read.
//!
//! Whoever runs it hands over what leaves ([`Show::content`]) and what is read ([`Show::read`]), each
//! with its time, and asks now and then what that says ([`Show::step`]). It is an estimate: where content
//! does not tell items apart it says so, and names the panel that draws too little.

mod align;
mod baseline;
pub mod feet;
mod findings;
mod heard;
mod spec;
pub mod steps;

pub use align::{Felt, History};
pub use baseline::{Baseline, ItemBase, SensorBase};
pub use findings::{Dropped, Findings, Loose, SensorWord, Shortfall};
pub use heard::Heard;
pub use spec::{ShowItem, ShowSensor, ShowSpec};

use crate::health::infer::UNKNOWN;
use crate::units::Time;

/// The estimator.
#[derive(Debug, Clone)]
pub struct Show {
    spec: ShowSpec,
    base: Baseline,
    /// Of each sensor, the items it sees.
    seen: Vec<Vec<u32>>,
    history: History,
    computed_a: Vec<f64>,
    findings: Findings,
}

impl Show {
    /// Nothing was seen yet.
    pub fn new(spec: ShowSpec) -> Self {
        let slowest_s = spec.sensors.iter().map(|sensor| sensor.lag_s);
        Self {
            base: Baseline::unknown(&spec),
            seen: spec.seen(),
            history: History::new(slowest_s.fold(0.0, f64::max)),
            computed_a: vec![0.0; spec.items.len()],
            findings: Findings {
                judged: vec![UNKNOWN; spec.items.len()],
                sensors: vec![SensorWord::Silent; spec.sensors.len()],
                ..Findings::default()
            },
            spec,
        }
    }

    /// What it was told.
    pub fn spec(&self) -> &ShowSpec {
        &self.spec
    }

    /// Takes over what a whole floor is like; one that is not of this floor is passed over.
    pub fn learn(&mut self, baseline: Baseline) {
        if baseline.fits(&self.spec) {
            self.base = baseline;
        }
    }

    /// What a whole floor is like, as far as that was learnt.
    pub fn baseline(&self) -> Baseline {
        self.base.clone()
    }

    /// What each item is computed to draw beyond idle from now on, by what was really sent.
    pub fn content(&mut self, at: Time, computed_a: &[f64]) {
        if computed_a.len() == self.spec.items.len() {
            self.history.put(at, computed_a);
        }
    }

    /// What a sensor read, as it gives it, at the time it was read.
    pub fn read(&mut self, sensor: usize, value_a: f64, at: Time) {
        let (Some(spec), Some(items)) = (self.spec.sensors.get(sensor), self.seen.get(sensor))
        else {
            return;
        };
        let felt = self
            .history
            .felt(at, spec.lag_s, items, &mut self.computed_a);
        let Some(felt) = felt.filter(|_| value_a.is_finite()) else {
            return;
        };
        let heard = Heard::new(
            spec,
            sensor,
            (value_a, at),
            &felt,
            &self.base.sensors[sensor],
        );
        // Here steps and feet hear it: (&heard, &self.computed_a, items).
        let _ = heard;
        self.findings.sensors[sensor] = SensorWord::Fine;
    }

    /// A switch went down or up.
    pub fn pressed(&mut self, panel: u32, switch: u16, down: bool, at: Time) {
        // Here feet hear it.
        let _ = (panel, switch, down, at);
    }

    /// A survey found these good, or a person says so: what was known of them is forgotten.
    pub fn repaired(&mut self, items: &[u32]) {
        for &item in items {
            if let Some(judged) = self.findings.judged.get_mut(item as usize) {
                *judged = UNKNOWN;
            }
        }
    }

    /// What all that says by now; about once a second.
    pub fn step(&mut self, now: Time) -> &Findings {
        let _ = now;
        &self.findings
    }
}
