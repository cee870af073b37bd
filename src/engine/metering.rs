//! Sensors: what they say beside what is sent, and how much stricter that makes the cap.
//!
//! Everything that is decided of one sensor is in [`crate::power::meter`]; here it is given what is
//! computed at its place, and the live limits that follow go to the limiter.

mod run;
mod told;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::Engine;
use super::out::Outlet;
use crate::floor::Floor;
use crate::floor::model::{Colour, Measured, Quantity, Sensor};
use crate::power::meter::{COLOURS, Computed, Fit, Spec, Verdict, Watch};
use crate::power::tree::{ElementIndex, Tree};
use crate::units::{Amps, Draw, Time};

pub(super) use run::Run;
pub use run::{NotBegun, Outcome};

/// A sensor's calibration, as it is kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Kept {
    /// Name of the sensor.
    pub sensor: String,
    /// Where it sat.
    pub place: String,
    /// What its place draws with all dark, in amperes.
    pub idle_a: f64,
    /// Real over computed current of each colour that it has.
    pub gains: BTreeMap<String, f64>,
    /// The farthest that a step of the run lay from this, in amperes.
    pub residual_a: f64,
    /// The farthest that one lay above it, in amperes.
    pub above_a: f64,
}

impl Kept {
    fn new(sensor: &str, place: &str, fit: &Fit) -> Self {
        let named = Colour::ALL.iter().zip(fit.gains);
        Self {
            sensor: sensor.to_owned(),
            place: place.to_owned(),
            idle_a: fit.idle_a,
            gains: named
                .filter_map(|(colour, gain)| Some((colour.name().to_owned(), gain?)))
                .collect(),
            residual_a: fit.residual_a,
            above_a: fit.above_a,
        }
    }

    /// Nothing if a number in it can't be.
    fn fit(&self) -> Option<Fit> {
        let gains = Colour::ALL.map(|colour| self.gains.get(colour.name()).copied());
        let sound = |a: f64| a.is_finite() && a >= 0.0;
        let fit = Fit {
            idle_a: self.idle_a,
            gains,
            residual_a: self.residual_a,
            above_a: self.above_a,
        };
        let gains_sound = gains
            .iter()
            .flatten()
            .all(|gain| sound(*gain) && *gain > 0.0);
        let sound = gains_sound
            && gains.iter().any(Option::is_some)
            && self.idle_a.is_finite()
            && sound(self.residual_a)
            && sound(self.above_a);
        sound.then_some(fit)
    }
}

/// One sensor on a floor that runs.
#[derive(Debug, Clone)]
pub(super) struct Metered {
    element: ElementIndex,
    place: String,
    watch: Watch,
    fit: Option<Fit>,
}

/// All of them, in the floor's order.
#[derive(Debug, Default)]
pub(super) struct Metering {
    sensors: Vec<Metered>,
    /// The run that is under way.
    run: Option<Run>,
    /// What became of the last one.
    outcomes: Vec<Outcome>,
    /// How many have ended.
    ended: u32,
    /// How many frames had left when sensors were last told what to read.
    expected_of: u64,
}

/// What a sensor's place is called.
fn place(floor: &Floor, of: Measured) -> String {
    match of {
        Measured::Circuit(at) => format!("circuit {}", floor.circuits[at].name),
        Measured::Supply(at) => format!("supply {}", floor.supplies[at].name),
        Measured::Feed(at) => format!("feed {}", floor.feeds[at].name),
        Measured::Panel(at) => format!("panel {}", floor.panels[at].position),
    }
}

fn element(tree: &Tree, of: Measured) -> ElementIndex {
    match of {
        Measured::Circuit(at) => tree.circuit(at),
        Measured::Supply(at) => tree.supply(at),
        Measured::Feed(at) => tree.feed(at),
        Measured::Panel(at) => tree.panel(at),
    }
}

/// Volts that are meant to be at a place, and whether they are those right there: without its
/// cables nobody knows what is left of them behind a supply.
fn nominal_volts(floor: &Floor, of: Measured) -> (f64, bool) {
    let supply = |at: usize| floor.supplies[at].volts.0;
    match of {
        Measured::Circuit(at) => (floor.circuits[at].volts.0, true),
        Measured::Supply(at) => (supply(at), true),
        Measured::Feed(at) => (supply(floor.feeds[at].supply), false),
        Measured::Panel(at) => (supply(floor.feeds[floor.panels[at].feed].supply), false),
    }
}

impl Metering {
    /// Where each sensor sits, what is known of it, and what a calibration run learnt.
    pub(super) fn known(&self) -> impl Iterator<Item = (ElementIndex, &Watch, Option<&Fit>)> + '_ {
        let sensors = self.sensors.iter();
        sensors.map(|one| (one.element, &one.watch, one.fit.as_ref()))
    }

    /// What each sensor's readings are worth now, in the floor's order.
    pub(super) fn verdicts(&self, now: Time) -> impl Iterator<Item = Verdict> + '_ {
        self.sensors.iter().map(move |one| one.watch.verdict(now))
    }

    /// `full` is what every panel draws at full, idle included.
    pub(super) fn new(
        floor: &Floor,
        tree: &Tree,
        full: impl Iterator<Item = Draw>,
        now: Time,
    ) -> Self {
        if floor.sensors.is_empty() {
            return Self::default();
        }
        let most = tree.carried(full);
        let metered = |sensor: &Sensor| {
            let element = element(tree, sensor.of);
            let most = match sensor.quantity {
                Quantity::Current => most[element as usize].amps().0,
                Quantity::Voltage => nominal_volts(floor, sensor.of).0,
            };
            let spec = Spec {
                most,
                tolerance: sensor.tolerance_percent / 100.0,
                every_s: sensor.every_s,
            };
            Metered {
                element,
                place: place(floor, sensor.of),
                watch: Watch::new(spec, now),
                fit: None,
            }
        };
        Self {
            sensors: floor.sensors.iter().map(metered).collect(),
            ..Self::default()
        }
    }
}

impl Metering {
    /// Whether a calibration run is under way.
    pub(super) const fn is_running(&self) -> bool {
        self.run.is_some()
    }
}

impl Engine {
    /// What is computed at every sensor's place, told apart by colour.
    fn computed(&self) -> Vec<Computed> {
        let tree = self.limiter.tree();
        let tables = &*self.tables;
        let mut panels = vec![[Draw::ZERO; COLOURS]; tables.panels.len()];
        for out in self.outs() {
            let leaving = self.limiter.leaving(out);
            for part in &tables.outputs[out as usize].parts {
                let slots = &tables.patterns[usize::from(part.pattern)].slots;
                let roles = slots.iter().cycle().skip(usize::from(part.phase));
                let levels = &leaving[usize::from(part.dst)..][..usize::from(part.len)];
                let panel = &mut panels[part.panel as usize];
                for (role, &level) in roles.zip(levels) {
                    panel[role.colour as usize] += Draw(u64::from(level) * role.parts_per_step());
                }
            }
        }
        let by_colour: [Vec<Draw>; COLOURS] =
            std::array::from_fn(|colour| tree.carried(panels.iter().map(|panel| panel[colour])));
        let at = |metered: &Metered| {
            let element = metered.element as usize;
            Computed {
                idle_a: tree.elements[element].idle.amps().0,
                colours_a: std::array::from_fn(|colour| by_colour[colour][element].amps().0),
            }
        };
        self.metering.sensors.iter().map(at).collect()
    }

    /// What a sensor should say, as far as anyone knows; `computed` is that of its place, if it was
    /// told apart by colours.
    fn expected(&self, sensor: usize, computed: Option<&Computed>) -> Option<f64> {
        let of = &self.floor.sensors[sensor];
        let metered = &self.metering.sensors[sensor];
        match (of.quantity, &metered.fit, computed) {
            (Quantity::Current, Some(fit), Some(computed)) => Some(fit.expected_a(computed)),
            (Quantity::Current, ..) => Some(self.limiter.reading(metered.element).sent.amps().0),
            (Quantity::Voltage, ..) => {
                let (volts, right_there) = nominal_volts(&self.floor, of.of);
                right_there.then_some(volts)
            }
        }
    }

    /// The limit of a place, if the file gives one.
    fn limit_a(&self, element: ElementIndex) -> Option<f64> {
        let element = &self.limiter.tree().elements[element as usize];
        element.rated_a.map(|_| element.limit.amps().0)
    }

    /// Looks at what is computed at every sensor's place. Call it a few times a second.
    pub(super) fn look_at_sensors(&mut self, now: Time, outlet: &mut impl Outlet) {
        if self.metering.sensors.is_empty() {
            return;
        }
        if let Some(computed) = self.expect_of_sensors(now) {
            self.run_calibration(&computed, now, outlet);
        }
    }

    /// Tells every sensor what it should read by what has left; gives what is computed at their places
    /// where a calibration needs it.
    fn expect_of_sensors(&mut self, now: Time) -> Option<Vec<Computed>> {
        self.metering.expected_of = self.leaving.frames_out;
        let by_colour = self.metering.run.is_some()
            || self.metering.sensors.iter().any(|one| one.fit.is_some());
        let computed = by_colour.then(|| self.computed());
        for at in 0..self.metering.sensors.len() {
            let of_place = computed.as_ref().map(|all| &all[at]);
            if let Some(expected) = self.expected(at, of_place) {
                self.metering.sensors[at].watch.expect(now, expected);
            }
        }
        computed
    }

    /// Sensors say this, in amperes or volts; who is unknown is passed over.
    pub(super) fn take_readings(&mut self, readings: &[(String, f64)], now: Time) {
        // A reading of light that left since the last look is not to be held against the light before.
        if self.leaving.frames_out != self.metering.expected_of {
            self.expect_of_sensors(now);
        }
        for (name, value) in readings {
            let named = |sensor: &Sensor| sensor.name == *name;
            let Some(at) = self.floor.sensors.iter().position(named) else {
                continue;
            };
            let current = self.floor.sensors[at].quantity == Quantity::Current;
            let limit_a = self.limit_a(self.metering.sensors[at].element);
            let metered = &mut self.metering.sensors[at];
            metered.watch.read(now, *value, limit_a.filter(|_| current));
            let verdict = metered.watch.verdict(now);
            if let Some(run) = &mut self.metering.run {
                run.read(at, *value, verdict, now);
            }
            self.surveys.read(at, *value, verdict, now);
            if current {
                self.looks.read(at, *value, now);
            }
        }
        self.set_live_limits();
    }

    /// Gives the limiter what follows from all sensors.
    pub(super) fn set_live_limits(&mut self) {
        let mut limits: BTreeMap<ElementIndex, Option<f64>> = BTreeMap::new();
        for (metered, sensor) in self.metering.sensors.iter().zip(&self.floor.sensors) {
            let limit_a = self.limit_a(metered.element);
            let (Quantity::Current, Some(limit_a)) = (sensor.quantity, limit_a) else {
                continue;
            };
            let idle = self.limiter.tree().elements[metered.element as usize].idle;
            let live_a = (metered.watch).live_limit(metered.fit.as_ref(), limit_a, idle.amps().0);
            let least = limits.entry(metered.element).or_default();
            *least = match (*least, live_a) {
                (Some(a), Some(b)) => Some(a.min(b)),
                (a, b) => a.or(b),
            };
        }
        for (element, live_a) in limits {
            let live = live_a.map(|a| Draw::limit(Amps(a)));
            if self.limiter.live_limit(element) != live {
                self.limiter.set_live_limit(element, live);
            }
        }
    }

    /// Takes calibrations that were kept; gives back those whose sensor or place is gone.
    pub(super) fn take_calibrations(&mut self, kept: Vec<Kept>) -> Vec<Kept> {
        let sensors = self.metering.sensors.iter_mut().zip(&self.floor.sensors);
        let mut sensors: Vec<_> = sensors.collect();
        let mut left = Vec::new();
        for kept in kept {
            let same = |(metered, sensor): &&mut (&mut Metered, &Sensor)| {
                sensor.name == kept.sensor
                    && metered.place == kept.place
                    && sensor.quantity == Quantity::Current
            };
            match (sensors.iter_mut().find(same), kept.fit()) {
                (Some((metered, _)), Some(fit)) => {
                    metered.fit = Some(fit);
                    metered.watch.calibrated();
                }
                _ => left.push(kept),
            }
        }
        self.set_live_limits();
        left
    }

    /// Goes on with the sensors of the floor before, by their names and places.
    pub(super) fn take_over_sensors(&mut self, before: &mut Self) {
        let known = before.metering.sensors.iter().zip(&before.floor.sensors);
        let known: Vec<_> = known.collect();
        let here = self.metering.sensors.iter_mut().zip(&self.floor.sensors);
        for (metered, sensor) in here {
            let same = known.iter().find(|(there, of)| {
                of.name == sensor.name
                    && there.place == metered.place
                    && of.quantity == sensor.quantity
            });
            if let Some((there, _)) = same {
                metered.watch = metered.watch.after(&there.watch);
                metered.fit = there.fit;
            }
        }
        self.metering.outcomes = std::mem::take(&mut before.metering.outcomes);
        self.metering.ended = before.metering.ended;
        if let Some(run) = before.metering.run.take() {
            self.end_calibration(&run, "the floor was replaced meanwhile");
        }
        // What no sensor stands for any more.
        let metered: Vec<ElementIndex> = self.metering.sensors.iter().map(|m| m.element).collect();
        for element in 0..self.limiter.tree().floor() {
            if !metered.contains(&element) && self.limiter.live_limit(element).is_some() {
                self.limiter.set_live_limit(element, None);
            }
        }
        self.set_live_limits();
    }
}
