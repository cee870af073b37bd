//! The coded survey: lights items in the patterns of a weighing design, takes what the sensors read,
//! and ends as soon as every item is decided.
//!
//! Whoever runs it shows [`Survey::light`] for [`Survey::hold_s`], hands over the readings that have
//! settled in that pattern, and then asks [`Survey::advance`] how it goes on. It never asks for more
//! than its rooms have, which is an estimate and no permission: what is sent goes through the limiter
//! all the same, and [`Survey::read`] takes what was really sent.

mod dice;
mod hold;
mod patterns;
mod spec;

#[cfg(test)]
mod tests;

pub use spec::{NotPossible, Room, SurveyItem, SurveySensor, SurveySpec};

use self::patterns::Patterns;
use super::infer::{Chance, Decision, Layout, Priors, Running, SensorLayout, UNKNOWN};
use super::{Condition, Judged};
use crate::units::count;

/// No pattern is held shorter: a new one every 0.2 s flashes nothing more than 2.5 times a second.
pub const LEAST_HOLD_S: f64 = 0.2;
/// As long as an item is weighed less than this, against what is sought, nothing can be decided.
const WEIGHED: f64 = 25.0;
/// What an item has to be weighed to be decided, from trials; for the time left.
const ENOUGH: f64 = 55.0;
/// Share of the best possible weight from which on more readings tell nothing new.
const SATURATED: f64 = 0.8;
/// The same for one that looks good by then: that takes a quarter of the readings, for beyond this share
/// they fight against the tolerance, which they can't lower.
const SATURATED_CLEAR: f64 = 0.5;
/// So probable it must be by then that it is good.
const CLEAR: f64 = 0.95;

/// How probable it may be that one that looks weak by then is good. That it differs by so much is more
/// than four times its tolerance, so that among a few hundred items this is rare by itself.
const SATURATED_GOOD: f64 = 0.05;
/// Wald's bound says that a faulty item is missed less often than asked, and in a survey that waits for
/// the last item far less often: by this factor, from trials, it may be missed more often by the bound.
const MISS: f64 = 8.0;
/// How probable it may be by that bound that a weak item is missed.
const WEAK_MISSED: f64 = 0.1;

/// More than one lacking item in so many, and two, are many: see [`Survey::is_pinned_down`]. Chosen so
/// that five of 256, or of 32 on one feed three, end as soon as they are decided.
const MANY_OF: usize = 24;

/// So many looks in a row must find everything decided: one more pattern shows up many a coincidence.
const AGREED: u32 = 2;

/// Patterns after which an item that was in all of them is worth a dark one.
const FEW: u32 = 8;

/// What [`Survey::advance`] says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Show the next pattern.
    Next,
    /// That was the last.
    Done(End),
}

/// Why a survey ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// Every item that a sensor sees is decided.
    Decided,
    /// What is not decided can't be told by more readings either: too near to what tolerance does.
    CannotTell,
    /// It has taken as long as it may; what is not decided is unknown.
    TimeIsUp,
}

/// How far a survey is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Progress {
    /// Items that are decided.
    pub decided: u32,
    /// Items that can be decided: seen by a sensor, and allowed to be lit.
    pub items: u32,
    /// Patterns that were shown to their end.
    pub patterns: u32,
    /// How long those took.
    pub spent_s: f64,
    /// How long it will take from here, about; nothing before there is anything to tell it by.
    pub left_s: Option<f64>,
}

/// A survey under way.
#[derive(Debug, Clone)]
pub struct Survey {
    spec: SurveySpec,
    patterns: Patterns,
    evidence: Running,
    priors: Priors,
    /// Items that are seen and may be lit.
    reached: Vec<usize>,
    light: Vec<u8>,
    hold_s: f64,
    /// Of each sensor, what was read in this pattern.
    gathered: Vec<Gathered>,
    shown: u32,
    looked: u32,
    spent_s: f64,
    /// Looks in a row by which everything was decided.
    agreed: u32,
    /// Whether an item was dark in a pattern that was read: one that draws all the time looks good
    /// whenever it is lit.
    was_dark: Vec<bool>,
    judged: Vec<Judged>,
    decided: Vec<bool>,
    misfit: f64,
}

#[derive(Debug, Clone, Default)]
struct Gathered {
    readings: usize,
    sum_a: f64,
    /// Of what was read, at the sensor, and of the differences from that.
    mean_a: f64,
    squares: f64,
    computed_a: Vec<f64>,
}

impl Survey {
    /// A survey that has not begun; its first pattern is ready.
    ///
    /// # Errors
    ///
    /// Says why none can be made: nothing is seen by any sensor, or a number makes no sense.
    pub fn new(spec: SurveySpec) -> Result<Self, NotPossible> {
        spec.check()?;
        let mut patterns = Patterns::new(&spec);
        let reached = patterns.reached();
        if reached.is_empty() {
            return Err(NotPossible::NothingToSee);
        }
        let mut light = vec![0; spec.items.len()];
        patterns.next(&mut light);
        let layout = layout(&spec);
        Ok(Self {
            patterns,
            evidence: Running::new(&layout),
            priors: Priors {
                good_from: spec.weak_below,
                ..Priors::default()
            },
            reached,
            light,
            hold_s: hold::hold_s(&spec),
            gathered: vec![Gathered::default(); spec.sensors.len()],
            shown: 0,
            looked: 0,
            spent_s: 0.0,
            agreed: 0,
            was_dark: vec![false; spec.items.len()],
            judged: vec![UNKNOWN; spec.items.len()],
            decided: vec![false; spec.items.len()],
            misfit: 1.0,
            spec,
        })
    }

    /// The level of each item in the pattern under way, of 255.
    pub fn light(&self) -> &[u8] {
        &self.light
    }

    /// How long this pattern is held.
    pub fn hold_s(&self) -> f64 {
        self.hold_s
    }

    /// A reading of a sensor that has settled in this pattern, as the sensor gives it, and what each
    /// item was computed to draw beyond idle by what was really sent. One that tells of the pattern before
    /// comes with what that one drew, ahead of those of this one.
    pub fn read(&mut self, sensor: usize, value_a: f64, computed_a: &[f64]) {
        let fits = value_a.is_finite() && computed_a.len() == self.spec.items.len();
        if !fits || sensor >= self.gathered.len() {
            return;
        }
        let before = &self.gathered[sensor];
        if before.readings > 0 && before.computed_a != computed_a {
            self.take_in(sensor);
        }
        let (gathered, spec) = (&mut self.gathered[sensor], &self.spec.sensors[sensor]);
        let value_a = value_a - spec.idle_a;
        gathered.sum_a += value_a / spec.factor;
        // Welford (1962): differences from the mean before and after.
        let readings = count(gathered.readings + 1);
        let before_a = value_a - gathered.mean_a;
        gathered.mean_a += before_a / readings;
        gathered.squares += before_a * (value_a - gathered.mean_a);
        gathered.readings += 1;
        if gathered.computed_a.is_empty() {
            gathered.computed_a = computed_a.to_vec();
        }
    }

    /// This pattern was held: how it goes on.
    pub fn advance(&mut self) -> Step {
        for sensor in 0..self.gathered.len() {
            let spec = &self.spec.sensors[sensor];
            let drift = spec.drift_a / spec.factor;
            self.evidence.wander(sensor, drift * drift * self.hold_s);
            self.take_in(sensor);
        }
        self.shown += 1;
        self.spent_s += self.hold_s;
        // A sum of times is off by its rounding.
        let up = self.spent_s > self.spec.most_s - 1e-3 * self.hold_s;
        if up || self.worth_a_look() {
            self.look(up);
            if self.reached.iter().all(|&item| self.decided[item]) {
                // Once more from every start of the search, before the last word.
                self.look(true);
            }
            let pinned = self.is_pinned_down();
            let all = pinned && self.reached.iter().all(|&item| self.decided[item]);
            self.agreed = if all { self.agreed + 1 } else { 0 };
            if self.agreed >= AGREED {
                return Step::Done(End::Decided);
            }
            if !all && self.shown > FEW && self.reached.iter().any(|&item| !self.was_dark[item]) {
                self.patterns.dark_next();
            }
            if !all && pinned && self.saturated() {
                return Step::Done(End::CannotTell);
            }
        }
        if up {
            return Step::Done(End::TimeIsUp);
        }
        self.patterns.next(&mut self.light);
        Step::Next
    }

    /// Whether the readings alone, without that few are dead, say which: where many of a sensor's items
    /// lack, as behind an open data wire, so many sets of them fit fewer patterns than items that the
    /// search may settle on a wrong one. Then a whole design is waited for.
    fn is_pinned_down(&self) -> bool {
        (0..self.spec.sensors.len()).all(|sensor| {
            let sees = |item: &&usize| {
                let mut sensors = self.spec.items[**item].sensors.iter();
                sensors.any(|of| usize::from(*of) == sensor)
            };
            let items = self.reached.iter().filter(sees);
            let (mut all, mut lacking) = (0_usize, 0_usize);
            for &item in items {
                all += 1;
                let condition = self.judged[item].condition;
                lacking += usize::from(!matches!(condition, Condition::Good | Condition::Unknown));
            }
            let few = all / MANY_OF + 2;
            let whole = u32::try_from(all + all / 4).unwrap_or(u32::MAX);
            lacking <= few || self.shown >= whole
        })
    }

    /// How far it is.
    pub fn progress(&self) -> Progress {
        let decided = self
            .reached
            .iter()
            .filter(|&&item| self.decided[item])
            .count();
        Progress {
            decided: u32::try_from(decided).unwrap_or(u32::MAX),
            items: u32::try_from(self.reached.len()).unwrap_or(u32::MAX),
            patterns: self.shown,
            spent_s: self.spent_s,
            left_s: self.left_s(),
        }
    }

    /// What is known of each item by now; what is not decided is unknown, with the probability that
    /// even the likeliest is wrong.
    pub fn judged(&self) -> &[Judged] {
        &self.judged
    }

    /// Mean square of what is left unexplained; about 1 if all is as computed. Far more says that
    /// something else draws current, or that the floor is not wired as its file says.
    pub fn misfit(&self) -> f64 {
        self.misfit
    }

    /// Takes in what was gathered of a sensor.
    fn take_in(&mut self, sensor: usize) {
        let gathered = std::mem::take(&mut self.gathered[sensor]);
        if gathered.readings == 0 {
            return;
        }
        let items = self.spec.items.iter().zip(&gathered.computed_a);
        for (dark, (item, amps)) in self.was_dark.iter_mut().zip(items) {
            let mut sees = item.sensors.iter().map(|&of| usize::from(of));
            *dark |= *amps == 0.0 && sees.any(|of| of == sensor);
        }
        let readings = count(gathered.readings);
        let spec = &mut self.spec.sensors[sensor];
        spec.hear_noise(gathered.squares, readings - 1.0);
        let variance = spec.variance(readings);
        let mean_a = gathered.sum_a / readings;
        self.evidence
            .add(sensor, &gathered.computed_a, mean_a, variance);
    }

    /// Looking costs time: rarely as long as nothing can be decided, often where weak ones are sought and
    /// tolerance is most of what is left, and after every pattern when all may be decided by one more.
    fn worth_a_look(&self) -> bool {
        let weights = self.evidence.weights();
        let sought = self.spec.sought_lack();
        let least = self.reached.iter().map(|&item| weights[item]);
        let least = least.fold(f64::INFINITY, f64::min);
        let growth = if least > 0.4 * self.best_weight() {
            1.02
        } else {
            1.15
        };
        least * sought * sought > WEIGHED
            || self.agreed > 0
            || f64::from(self.shown) >= growth * f64::from(self.looked)
    }

    fn look(&mut self, thorough: bool) {
        self.looked = self.shown;
        let decision = self.evidence.decide(&self.priors, thorough);
        self.misfit = decision.misfit;
        self.judge(&decision);
    }

    fn judge(&mut self, decision: &Decision) {
        for &item in &self.reached {
            let chance = decision.chances[item];
            let call = match chance.map_or(Call::Open, |chance| self.call(&chance)) {
                Call::NotFaulty if !self.was_dark[item] => Call::Open,
                call => call,
            };
            self.decided[item] = call != Call::Open;
            self.judged[item] = chance.map_or(UNKNOWN, |chance| {
                let Judged { condition, doubt } = chance.judged();
                let is_good = condition == Condition::Good;
                let told = match call {
                    Call::Open => false,
                    Call::Faulty => !is_good,
                    // It is not dead, and whether it is weak was not asked for: nothing is said of it
                    // if that is what it looks like.
                    Call::NotFaulty => is_good,
                };
                Judged {
                    condition: if told { condition } else { Condition::Unknown },
                    doubt,
                }
            });
        }
    }

    /// Wald's bounds on the ratio of likelihoods, as bounds on the probability: an item is faulty
    /// when being good has become so improbable that among all items together the false alarm is as
    /// rare as asked, and not faulty when a faulty one would look so well rarely enough.
    fn call(&self, chance: &Chance) -> Call {
        let Priors { dead, weak, .. } = self.priors;
        let items = count(self.reached.len());
        let improbable = self.spec.false_alarm / (items * (dead + weak)).max(1.0);
        let weak_out = !self.spec.weak || chance.weak <= weak * WEAK_MISSED;
        if chance.good <= improbable {
            Call::Faulty
        } else if chance.dead <= dead * MISS * self.spec.miss && weak_out {
            Call::NotFaulty
        } else if chance.weight < SATURATED * self.best_weight() {
            let clear = chance.weight >= SATURATED_CLEAR * self.best_weight();
            if self.spec.weak && clear && chance.good >= CLEAR {
                Call::NotFaulty
            } else {
                Call::Open
            }
        } else if chance.good <= SATURATED_GOOD {
            Call::Faulty
        } else if chance.good >= 0.5 {
            Call::NotFaulty
        } else {
            Call::Open
        }
    }

    /// What no item can be weighed beyond: its own tolerance.
    fn best_weight(&self) -> f64 {
        self.spec.tolerance.powi(-2)
    }

    fn saturated(&self) -> bool {
        let weights = self.evidence.weights();
        let best = self.best_weight();
        let mut open = self.reached.iter().filter(|&&item| !self.decided[item]);
        open.all(|&item| weights[item] > SATURATED * best)
    }

    fn left_s(&self) -> Option<f64> {
        let weights = self.evidence.weights();
        let sought = self.spec.sought_lack();
        let tolerance = self.spec.tolerance * self.spec.tolerance;
        let open = self.reached.iter().filter(|&&item| !self.decided[item]);
        // What was read of the least known item, without what tolerance takes away from it.
        let least = open
            .map(|&item| 1.0 / (1.0 / weights[item].max(1e-12) - tolerance).max(1e-12))
            .fold(f64::INFINITY, f64::min);
        if least.is_infinite() {
            return Some(0.0);
        }
        if self.shown < 4 || least < 1e-3 {
            return None;
        }
        let enough = if self.spec.weak {
            self.best_weight() * SATURATED_CLEAR / (1.0 - SATURATED_CLEAR)
        } else {
            ENOUGH / (sought * sought)
        };
        let whole_s = self.spent_s * enough / least;
        let left_s = (whole_s - self.spent_s).max(self.spent_s / 10.0);
        Some(left_s.min(self.spec.most_s - self.spent_s).max(0.0))
    }
}

/// What is said of an item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Call {
    Open,
    Faulty,
    NotFaulty,
}

fn layout(spec: &SurveySpec) -> Layout {
    let mut sensors: Vec<SensorLayout> = spec
        .sensors
        .iter()
        .map(|sensor| SensorLayout {
            sees: Vec::new(),
            gain_sd: sensor.gain_sd,
            offset_sd_a: sensor.offset_sd_a / sensor.factor,
        })
        .collect();
    for (number, item) in (0..).zip(&spec.items) {
        for &sensor in &item.sensors {
            sensors[usize::from(sensor)].sees.push(number);
        }
    }
    Layout {
        full_a: spec.items.iter().map(|item| item.full_a).collect(),
        sensors,
        tolerance: spec.tolerance,
    }
}
