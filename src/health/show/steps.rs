//! Current that stops at once, while the show runs: which joint opened.
//!
//! Every reading is held against what was expected. [`line`] keeps the last ones of each sensor, and knows
//! what makes a sound floor differ a little; [`looked`] takes that into account; [`whats`] lists what may have
//! happened: a joint opens (what lies behind it draws nothing, a share, or goes on as it was), a
//! segment dies, the sensor itself jumps or drifts, what was open closes. [`explain`] weighs one against
//! the other as content goes on. What stays the same whichever of several happened is told as that: a panel,
//! or only the sensor. A joint is told once it has been open for two seconds, and not while somebody
//! stands where it opened: what opens under feet is for [`feet`](super::feet).

mod explain;
mod line;
mod looked;
mod scan;
mod told;
pub(super) mod whats;

use std::collections::{BTreeMap, BTreeSet};

use self::explain::{Explained, Scene, lasting, passing};
use self::line::{Known, Line, Sample};
use self::looked::Looked;
use self::whats::{Candidate, What};
use super::baseline::Baseline;
use super::heard::Heard;
use super::spec::ShowSpec;
use crate::units::Time;

pub(super) use self::scan::log_sum;
pub use self::told::{InPanel, Opened, SensorStep, Told, Unclear};

/// What a joint takes when it opens.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Group {
    /// The panel that one goes to.
    pub panel: u32,
    /// The items behind it.
    pub takes: Vec<u32>,
    /// Whether these may go on with what they showed last: a joint of the data.
    pub holds: bool,
}

/// When something is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rules {
    /// A joint, a panel, a sensor is named if it is at least so probable.
    pub named: f64,
    /// It must have lasted so long, in seconds.
    pub lasts_s: f64,
    /// Under feet so long.
    pub under_feet_s: f64,
    /// Readings are looked at for so long before they are learnt.
    pub window_s: f64,
    /// At most so long while something is looked into.
    pub longest_s: f64,
}

/// Our choice, from trials.
pub const RULES: Rules = Rules {
    named: 0.97,
    lasts_s: 2.0,
    under_feet_s: 7.0,
    window_s: 12.0,
    longest_s: 30.0,
};

/// More than this is left unexplained: then nothing is named.
const MUCH: f64 = 1.5;
/// What was found so long ago is taken for granted by whoever looks at shorter things.
const OLD_S: f64 = 30.0;
/// So many readings make a window.
const FEW: usize = 5;

/// Something that was found.
#[derive(Debug, Clone)]
struct Out {
    candidate: usize,
    what: What,
    /// The share that it does not draw.
    lack: f64,
    since: Time,
    until: Option<Time>,
    chance: f64,
    by_a: f64,
    /// What it goes on to draw, by sensor and place there.
    held_a: BTreeMap<usize, Vec<(usize, f64)>>,
}

/// What is left of one reading for whoever looks at shorter things.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rest {
    /// What is drawn above all that is known.
    pub above_a: f64,
    /// Variance of the reading by itself.
    pub variance: f64,
    /// Variance of what is known: the same error in all readings of some seconds.
    pub common: f64,
}

/// Follows all sensors of a floor.
#[derive(Debug, Clone)]
pub struct Steps {
    rules: Rules,
    candidates: Vec<Candidate>,
    drift_a: Vec<f64>,
    shares: Vec<f64>,
    lines: Vec<Line>,
    out: Vec<Out>,
    told: Told,
}

impl Steps {
    /// Nothing was heard yet.
    pub fn new(spec: &ShowSpec, groups: &[Group], rules: Rules) -> Self {
        let sees = spec.seen();
        let panels: Vec<u32> = spec.items.iter().map(|item| item.panel).collect();
        let mut steps = Self {
            rules,
            candidates: whats::candidates(groups, &panels, &sees),
            drift_a: spec
                .sensors
                .iter()
                .map(|sensor| sensor.drift_a / sensor.factor)
                .collect(),
            shares: Vec::new(),
            lines: sees.into_iter().map(Line::nothing).collect(),
            out: Vec::new(),
            told: Told::default(),
        };
        steps.learn(&Baseline::unknown(spec));
        steps
    }

    /// From now on the floor is as this says, and all that was found is forgotten.
    pub fn learn(&mut self, base: &Baseline) {
        self.shares = base.items.iter().map(|item| item.share).collect();
        for (at, line) in self.lines.iter_mut().enumerate() {
            let items = line.sees.iter().map(|item| &base.items[*item as usize]);
            line.known = Known::new(items, &base.sensors[at], self.drift_a[at]);
            line.window.clear();
            line.pending = false;
        }
        self.out.clear();
        self.told = Told::default();
    }

    /// Somebody says that these are good: what was found of them is over.
    pub fn repaired(&mut self, items: &[u32]) {
        let touches =
            |candidate: &Candidate| candidate.takes.iter().any(|item| items.contains(item));
        let mut touched = BTreeSet::new();
        self.out.retain(|out| {
            let candidate = &self.candidates[out.candidate];
            let over = touches(candidate);
            if over {
                touched.extend(candidate.seen.iter().map(|(sensor, _)| *sensor));
            }
            !over
        });
        for sensor in touched {
            self.lines[sensor].window.clear();
            self.lines[sensor].pending = false;
        }
        self.tell_opened();
    }

    /// A sensor's windows are not to be believed: what was found by them in the last minute is forgotten.
    pub fn begin_anew(&mut self, sensor: usize) {
        let Some(line) = self.lines.get_mut(sensor) else {
            return;
        };
        let newest = line.newest().unwrap_or_default();
        line.window.clear();
        line.pending = false;
        let candidates = &self.candidates;
        self.out.retain(|out| {
            let mut seen = candidates[out.candidate].seen.iter();
            newest.s_since(out.since) > 60.0 || seen.all(|(of, _)| *of != sensor)
        });
        self.tell_opened();
    }

    /// A reading, and what each item of the floor was computed to draw as the sensor feels it. `disturbed`:
    /// something that is known and comes and goes may be out, so that it says nothing of what lasts.
    pub fn hear(&mut self, heard: &Heard, computed_a: &[f64], disturbed: bool) -> Option<Rest> {
        let line = self.lines.get(heard.sensor)?;
        if line.sees.is_empty() || line.newest().is_some_and(|newest| newest >= heard.at) {
            return None;
        }
        if !heard.drawn_a.is_finite() || heard.variance <= 0.0 {
            return None;
        }
        let expected = line.sees.iter();
        let expected_a =
            expected.map(|item| computed_a[*item as usize] * self.shares[*item as usize]);
        let sample = Sample {
            at: heard.at,
            drawn_a: heard.drawn_a,
            variance: heard.variance,
            expected_a: expected_a.collect(),
            over: disturbed,
        };
        let (row, above_a) = self.held_against(heard.sensor, &sample, |_, age_s| age_s >= OLD_S);
        let (surprise, common) = line.known.surprise(&row, above_a);
        let rest = Rest {
            above_a: surprise,
            variance: sample.variance,
            common,
        };
        self.lines[heard.sensor].window.push_back(sample);
        Some(rest)
    }

    /// What a reading depends on and by how much it is above what was expected, given what was found;
    /// by those that say so of its number and age in seconds.
    fn held_against(
        &self,
        sensor: usize,
        sample: &Sample,
        counts: impl Fn(usize, f64) -> bool,
    ) -> (Vec<f64>, f64) {
        let line = &self.lines[sensor];
        let mut cells = sample.expected_a.clone();
        let mut above_a = sample.drawn_a - cells.iter().sum::<f64>();
        for (number, out) in self.out.iter().enumerate() {
            let over = out.until.is_some_and(|until| sample.at >= until);
            if sample.at < out.since || over || !counts(number, sample.at.s_since(out.since)) {
                continue;
            }
            let seen = &self.candidates[out.candidate].seen;
            let Some((_, places)) = seen.iter().find(|(of, _)| *of == sensor) else {
                continue;
            };
            for &place in places {
                let full_a = sample.expected_a[place];
                let lacks_a = (full_a * out.lack).min(cells[place]);
                cells[place] -= lacks_a;
                above_a += lacks_a * (1.0 + line.known.mean[place]);
            }
            for (place, held_a) in out.held_a.get(&sensor).into_iter().flatten() {
                above_a -= held_a * (1.0 + line.known.mean[*place]);
            }
        }
        (Known::row(&cells), above_a)
    }

    /// What all that says by now. `stands`: whether somebody has stood on a panel since about then.
    pub fn decide(&mut self, now: Time, stands: impl Fn(u32, Time) -> bool) -> &Told {
        self.learn_what_is_old();
        self.told = Told::default();
        let scene = self.scene();
        let singles = scene.singles();
        let mut news = Vec::new();
        for sensors in self.clusters(&singles) {
            let part = scene.part(&sensors);
            let explained = part.explain(&part.all_possible());
            news.push((sensors, explained));
        }
        for line in &mut self.lines {
            line.pending = false;
        }
        for (sensors, explained) in news {
            self.conclude(&sensors, &explained, now, &stands);
        }
        self.forget_what_is_over(now);
        self.tell_opened();
        &self.told
    }

    /// What was told last.
    pub const fn told(&self) -> &Told {
        &self.told
    }

    /// Whether some sensor reads what a sound floor does not explain.
    pub fn is_looking(&self) -> bool {
        self.lines.iter().any(|line| line.pending)
    }

    fn learn_what_is_old(&mut self) {
        for sensor in 0..self.lines.len() {
            let Some(newest) = self.lines[sensor].newest() else {
                continue;
            };
            loop {
                let line = &self.lines[sensor];
                let Some(oldest) = line.window.front() else {
                    break;
                };
                let age_s = newest.s_since(oldest.at);
                let keep_s = if line.pending {
                    self.rules.longest_s
                } else {
                    self.rules.window_s
                };
                if age_s <= keep_s {
                    break;
                }
                if !line.pending && !oldest.over {
                    let (row, above_a) = self.held_against(sensor, oldest, |_, _| true);
                    let (at, variance) = (oldest.at, oldest.variance);
                    let known = &mut self.lines[sensor].known;
                    known.age(at);
                    known.learn(&row, above_a, variance, true);
                }
                self.lines[sensor].window.pop_front();
            }
        }
    }

    fn scene(&self) -> Scene<'_> {
        let mut scene = Scene {
            candidates: &self.candidates,
            looked: BTreeMap::new(),
            drawn_a: BTreeMap::new(),
            closing_a: vec![BTreeMap::new(); self.out.len()],
            whole: vec![true; self.candidates.len()],
        };
        for (sensor, line) in self.lines.iter().enumerate() {
            let samples: Vec<&Sample> = line.window.iter().filter(|one| !one.over).collect();
            if samples.len() < FEW {
                continue;
            }
            let mut readings = Vec::with_capacity(samples.len());
            let mut drawn_a = Vec::with_capacity(samples.len());
            for sample in &samples {
                let (row, above_a) = self.held_against(sensor, sample, |_, _| true);
                let shares = line.known.mean.iter();
                let drawn = row[..line.sees.len()].iter().zip(shares);
                drawn_a.push(drawn.map(|(a, more)| a * (1.0 + more)).collect());
                readings.push((sample.at, row, above_a, sample.variance));
            }
            for (number, out) in self.out.iter().enumerate() {
                let seen = &self.candidates[out.candidate].seen;
                if out.until.is_some() || seen.iter().all(|(of, _)| *of != sensor) {
                    continue;
                }
                let each = samples.iter().zip(&readings);
                let more = each.map(|(sample, (_, _, above_a, _))| {
                    above_a
                        - self
                            .held_against(sensor, sample, |other, _| other != number)
                            .1
                });
                scene.closing_a[number].insert(sensor, more.collect());
            }
            scene
                .looked
                .insert(sensor, Looked::new(&line.known, readings));
            scene.drawn_a.insert(sensor, drawn_a);
        }
        for (candidate, whole) in self.candidates.iter().zip(&mut scene.whole) {
            *whole = candidate
                .seen
                .iter()
                .any(|(sensor, _)| scene.looked.contains_key(sensor));
        }
        scene
    }

    /// Sensors that have something to explain, those together that one thing may explain.
    fn clusters(&self, singles: &[(What, f64)]) -> Vec<BTreeSet<usize>> {
        let mut clusters: Vec<BTreeSet<usize>> = Vec::new();
        for (what, _) in singles
            .iter()
            .filter(|(_, weight)| *weight > explain::WORTH)
        {
            let seen = |candidate: usize| self.candidates[candidate].seen.iter();
            let mut touched: BTreeSet<usize> = match *what {
                What::Close(at) => seen(self.out[at].candidate).map(|(of, _)| *of).collect(),
                _ => what
                    .candidate()
                    .map(|at| seen(at).map(|(of, _)| *of).collect())
                    .or_else(|| what.sensor().map(|of| BTreeSet::from([of])))
                    .unwrap_or_default(),
            };
            clusters.retain(|other| {
                let apart = other.is_disjoint(&touched);
                if !apart {
                    touched.extend(other);
                }
                apart
            });
            clusters.push(touched);
        }
        clusters
    }

    fn conclude(
        &mut self,
        sensors: &BTreeSet<usize>,
        explained: &Explained,
        now: Time,
        stands: &impl Fn(u32, Time) -> bool,
    ) {
        let named = self.rules.named;
        let sure = |chance: f64| chance >= named;
        let best = explained.best().to_vec();
        if sure(
            explained
                .all
                .iter()
                .filter(|(acts, _)| passing(acts).next().is_some())
                .map(|(_, chance)| chance)
                .sum(),
        ) {
            for (candidate, from, to) in passing(&best) {
                self.pass_over(candidate, from.at, to.at);
            }
        }
        if explained.nothing() > 0.5 {
            return;
        }
        let fits = explained.misfit <= MUCH;
        let careful = if fits { 1.0 } else { named };
        let mut learnt = BTreeSet::new();
        let near = self.candidates.iter().filter(|candidate| {
            let mut seen = candidate.seen.iter();
            seen.any(|(sensor, _)| sensors.contains(sensor))
        });
        let here: BTreeSet<u32> = near.map(|candidate| candidate.panel).collect();
        let (mut opened, mut closed) = (Vec::new(), Vec::new());
        for act in lasting(&best) {
            let lasts_s = now.s_since(act.at);
            if let Some(candidate) = act.what.candidate() {
                let chance = explained.chance(|what| what.candidate() == Some(candidate));
                // Nobody knows before they have left whether it closes then. Which panel it is may not be
                // sure yet: for a while whoever stepped anywhere here counts.
                let own = stands(self.candidates[candidate].panel, act.at);
                let waits_s = if own {
                    f64::INFINITY
                } else if here.iter().any(|panel| stands(*panel, act.at)) {
                    self.rules.under_feet_s
                } else {
                    self.rules.lasts_s
                };
                let by_a = self.by_a(candidate, act.at) * act.size;
                if sure(chance) && fits {
                    if lasts_s >= waits_s {
                        opened.push((candidate, *act, chance.min(careful), by_a));
                    }
                } else {
                    self.told.unsure(
                        &self.candidates,
                        explained,
                        *act,
                        sensors,
                        by_a,
                        careful,
                        self.rules.named,
                    );
                }
            } else if let Some(sensor) = act.what.sensor() {
                let chance = explained.chance(|what| what.sensor() == Some(sensor));
                if sure(chance) && fits && lasts_s >= self.rules.lasts_s {
                    learnt.insert(sensor);
                    self.take_over(sensor, *act, chance, now);
                } else if !sure(chance) {
                    self.told.unsure(
                        &self.candidates,
                        explained,
                        *act,
                        sensors,
                        0.0,
                        careful,
                        self.rules.named,
                    );
                }
            } else if let What::Close(at) = act.what {
                let chance = explained.chance(|what| what == act.what);
                if sure(chance) {
                    closed.push((at, act.at));
                }
            }
        }
        for (at, since) in closed {
            self.out[at].until = Some(since);
        }
        for (candidate, act, chance, by_a) in opened {
            let held_a = match act.what {
                What::Held(_) => self.held(candidate, act.at),
                _ => BTreeMap::new(),
            };
            self.out.push(Out {
                candidate,
                what: act.what,
                lack: act.size.clamp(0.0, 1.0),
                since: act.at,
                until: None,
                chance,
                by_a,
                held_a,
            });
        }
        for &sensor in sensors.difference(&learnt) {
            self.lines[sensor].pending = true;
        }
    }
}
