//! What is told of current that stopped, and how the rest of the estimator follows from it.

use std::collections::{BTreeMap, BTreeSet};

use super::conclude::Look;
use super::explained::lasting;
use super::scan::Act;
use super::whats::{Candidate, What};
use super::{Out, Steps};
use crate::units::Time;

/// A joint that opened, or items that died.
#[derive(Debug, Clone, PartialEq)]
pub struct Opened {
    /// Index of the panel to go to.
    pub panel: u32,
    /// The groups that explain it, by their numbers; none: one item by itself.
    pub groups: Vec<usize>,
    /// The items that are out.
    pub items: Vec<u32>,
    /// When it began.
    pub at: Time,
    /// The share that they still draw; of full, if they go on with what they showed.
    pub share: f64,
    /// Whether they go on with what they showed then.
    pub held: bool,
    /// By how much the current fell, on the mean since.
    pub by_a: f64,
    /// Probability that it is so.
    pub chance: f64,
}

/// Something opened in a panel, and what exactly can't be told.
#[derive(Debug, Clone, PartialEq)]
pub struct InPanel {
    /// Index of the panel.
    pub panel: u32,
    /// When it began.
    pub at: Time,
    /// By how much the current fell, on the mean since.
    pub by_a: f64,
    /// Probability that it is in this panel.
    pub chance: f64,
    /// Which items may be out, with the probability of each set; the likeliest first.
    pub among: Vec<(Vec<u32>, f64)>,
}

/// Something happened at a sensor, and not even where can be told.
#[derive(Debug, Clone, PartialEq)]
pub struct Unclear {
    /// Those that noticed.
    pub sensors: Vec<usize>,
    /// When it began.
    pub at: Time,
    /// By how much the current fell, on the mean since, if it is what is likeliest.
    pub by_a: f64,
    /// Probability that something opened, and it is not the sensor itself.
    pub chance: f64,
    /// The panels where it may be, with the probability of each; the likeliest first.
    pub among: Vec<(u32, f64)>,
}

/// A sensor itself reads otherwise than before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SensorStep {
    /// Which.
    pub sensor: usize,
    /// Since when.
    pub at: Time,
    /// By how much its offset changed.
    pub offset_a: f64,
    /// By how much its gain did.
    pub gain: f64,
    /// Probability that it is the sensor.
    pub chance: f64,
}

/// All that is told.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Told {
    /// What opened and is open.
    pub opened: Vec<Opened>,
    /// Panels in which something opened.
    pub panels: Vec<InPanel>,
    /// Where nobody can tell the panel.
    pub unclear: Vec<Unclear>,
    /// Sensors that were found to have changed just now.
    pub sensors: Vec<SensorStep>,
}

impl Told {
    /// What several things explain: the panel, if it is the same in all of them, or the sensors.
    pub(super) fn unsure(
        &mut self,
        candidates: &[Candidate],
        look: &Look<'_>,
        act: Act,
        by_a: f64,
    ) {
        let (explained, careful) = (look.explained, look.careful);
        let panel_of = |what: What| what.candidate().map(|at| candidates[at].panel);
        let mut panels: BTreeMap<u32, f64> = BTreeMap::new();
        let mut sets: BTreeMap<usize, f64> = BTreeMap::new();
        for (acts, chance) in &explained.all {
            let mut here = BTreeSet::new();
            for one in lasting(acts).filter_map(|act| act.what.candidate()) {
                *sets.entry(one).or_default() += chance;
                here.insert(candidates[one].panel);
            }
            for panel in here {
                *panels.entry(panel).or_default() += chance;
            }
        }
        let at = act.at;
        if let Some(panel) = panel_of(act.what)
            && panels[&panel] >= look.panel_named
        {
            if self.panels.iter().any(|known| known.panel == panel) {
                return;
            }
            let own = sets
                .iter()
                .filter(|(one, chance)| candidates[**one].panel == panel && **chance >= 0.01);
            let mut among: Vec<(Vec<u32>, f64)> = own
                .map(|(one, chance)| (candidates[*one].takes.clone(), *chance))
                .collect();
            among.sort_by(|a, b| b.1.total_cmp(&a.1));
            self.panels.push(InPanel {
                panel,
                at,
                by_a,
                chance: panels[&panel].min(careful),
                among,
            });
            return;
        }
        let sensors: Vec<usize> = look.sensors.iter().copied().collect();
        if self.unclear.iter().any(|known| known.sensors == sensors) {
            return;
        }
        let mut among: Vec<(u32, f64)> = panels
            .into_iter()
            .filter(|(_, chance)| *chance >= 0.01)
            .collect();
        among.sort_by(|a, b| b.1.total_cmp(&a.1));
        self.unclear.push(Unclear {
            sensors,
            at,
            by_a,
            chance: explained
                .chance(|what| what.candidate().is_some())
                .min(careful),
            among,
        });
    }
}

impl Steps {
    /// By how much less is drawn on the mean since then if this went out.
    pub(super) fn by_a(&self, candidate: usize, since: Time) -> f64 {
        let of_sensor = |(sensor, places): &(usize, Vec<usize>)| {
            let window = self.lines[*sensor].window.iter();
            let since = window.filter(|sample| sample.at >= since);
            let (mut sum_a, mut readings) = (0.0, 0.0);
            for sample in since {
                sum_a += places
                    .iter()
                    .map(|&place| sample.expected_a[place])
                    .sum::<f64>();
                readings += 1.0;
            }
            if readings > 0.0 {
                sum_a / readings
            } else {
                0.0
            }
        };
        let seen = self.candidates[candidate].seen.iter();
        seen.map(of_sensor).fold(0.0, f64::max)
    }

    /// What a candidate drew when it began to go on with that.
    pub(super) fn held(&self, candidate: usize, at: Time) -> BTreeMap<usize, Vec<(usize, f64)>> {
        let of_sensor = |(sensor, places): &(usize, Vec<usize>)| {
            let mut window = self.lines[*sensor].window.iter();
            let first = window.find(|sample| sample.at >= at)?;
            let held = places.iter().map(|&place| (place, first.expected_a[place]));
            Some((*sensor, held.collect()))
        };
        let seen = self.candidates[candidate].seen.iter();
        seen.filter_map(of_sensor).collect()
    }

    /// What a candidate did for a while is over, and says nothing of what comes.
    pub(super) fn pass_over(&mut self, candidate: usize, from: Time, to: Time) {
        for (sensor, _) in &self.candidates[candidate].seen {
            for sample in &mut self.lines[*sensor].window {
                sample.over |= sample.at >= from && sample.at < to;
            }
        }
    }

    /// A sensor reads otherwise than before: that is how it is from now on.
    pub(super) fn take_over(&mut self, sensor: usize, act: Act, chance: f64, now: Time) {
        let (mut gain, mut offset_a) = (0.0, 0.0);
        match act.what {
            What::Gain(_) => gain = act.size,
            What::Drift(_) => offset_a = act.size * now.s_since(act.at),
            _ => offset_a = act.size,
        }
        while let Some(sample) = self.lines[sensor].window.front() {
            if sample.at >= act.at {
                break;
            }
            if !sample.over {
                let (row, above_a) = self.held_against(sensor, sample, |_, _| true);
                let (at, variance) = (sample.at, sample.variance);
                let known = &mut self.lines[sensor].known;
                known.age(at);
                known.learn(&row, above_a, variance, true);
            }
            self.lines[sensor].window.pop_front();
        }
        let line = &mut self.lines[sensor];
        line.known.shift(gain, offset_a);
        if matches!(act.what, What::Drift(_)) {
            // What it read on the way is neither the one nor the other.
            line.window.clear();
        }
        self.told.sensors.push(SensorStep {
            sensor,
            at: act.at,
            offset_a,
            gain,
            chance,
        });
    }

    pub(super) fn forget_what_is_over(&mut self, now: Time) {
        let longest_s = self.rules.longest_s;
        self.out.retain(|out| {
            out.until
                .is_none_or(|until| now.s_since(until) < longest_s + 1.0)
        });
    }

    fn share(&self, out: &Out) -> f64 {
        let Some((sensor, held_a)) = out.held_a.iter().next() else {
            return 1.0 - out.lack;
        };
        let sees = &self.lines[*sensor].sees;
        let (mut held, mut full) = (0.0, 0.0);
        for (place, held_a) in held_a {
            held += held_a;
            full += self.full_a[sees[*place] as usize];
        }
        held / f64::max(full, 1e-3)
    }

    pub(super) fn tell_opened(&mut self) {
        let open = self.out.iter().filter(|out| out.until.is_none());
        self.told.opened = open
            .map(|out| {
                let candidate = &self.candidates[out.candidate];
                Opened {
                    panel: candidate.panel,
                    groups: candidate.groups.clone(),
                    items: candidate.takes.clone(),
                    at: out.since,
                    share: self.share(out),
                    held: matches!(out.what, What::Held(_)),
                    by_a: out.by_a,
                    chance: out.chance,
                }
            })
            .collect();
    }
}
