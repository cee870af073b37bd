//! Current that stops at once, while the show runs: which joint opened.
//!
//! Every reading is held against what was expected. [`line`] keeps the last ones of each sensor, and knows
//! what makes a sound floor differ a little; [`looked`] takes that into account; [`whats`] lists what may have
//! happened: a joint opens (what lies behind it draws nothing, a share, or goes on as it was), a
//! segment dies, the sensor itself jumps or drifts, what was open closes. [`explain`] weighs one against
//! the other as content goes on. What stays the same whichever of several happened is told as that: a panel,
//! or only the sensor. A joint is told once it has been open for two seconds, and not while somebody
//! stands where it opened: what opens under feet is for [`feet`](super::feet).

mod check;
mod conclude;
mod explain;
mod explained;
mod line;
mod looked;
mod scan;
mod scene;
mod told;
pub(super) mod whats;
mod windows;

#[cfg(test)]
mod tests;

use std::collections::{BTreeMap, BTreeSet};

use self::line::{Known, Line, Sample};
use self::whats::{Candidate, What};
use super::baseline::Baseline;
use super::heard::Heard;
use super::spec::ShowSpec;
use crate::units::Time;

pub use self::check::jump_ratios;
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

/// What was found so long ago is taken for granted by whoever looks at shorter things.
const OLD_S: f64 = 30.0;
/// So much of a window must explain itself before a floor is taken for sound.
const SOUND_S: f64 = 4.0;
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

/// A sensor that sees more than this is not looked at: work grows with the square of it.
const MOST_SEEN: usize = 400;

/// Of each sensor that is looked at, the items it sees.
pub(super) fn seen(spec: &ShowSpec) -> Vec<Vec<u32>> {
    let mut seen = spec.seen();
    for sees in seen.iter_mut().filter(|sees| sees.len() > MOST_SEEN) {
        sees.clear();
    }
    seen
}

/// Follows all sensors of a floor.
#[derive(Debug, Clone)]
pub struct Steps {
    rules: Rules,
    candidates: Vec<Candidate>,
    drift_a: Vec<f64>,
    full_a: Vec<f64>,
    base_shares: Vec<f64>,
    shares: Vec<f64>,
    lines: Vec<Line>,
    out: Vec<Out>,
    told: Told,
}

impl Steps {
    /// Nothing was heard yet.
    pub fn new(spec: &ShowSpec, groups: &[Group], rules: Rules) -> Self {
        let sees = seen(spec);
        let panels: Vec<u32> = spec.items.iter().map(|item| item.panel).collect();
        let mut steps = Self {
            rules,
            candidates: whats::candidates(groups, &panels, &sees),
            drift_a: spec
                .sensors
                .iter()
                .map(|sensor| sensor.drift_a / sensor.factor)
                .collect(),
            full_a: spec.items.iter().map(|item| item.full_a).collect(),
            base_shares: Vec::new(),
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
        self.base_shares = base.items.iter().map(|item| item.share).collect();
        self.shares.clone_from(&self.base_shares);
        for (at, line) in self.lines.iter_mut().enumerate() {
            let items = line.sees.iter().map(|item| &base.items[*item as usize]);
            line.known = Known::new(items, &base.sensors[at], self.drift_a[at]);
            line.window.clear();
            line.pending = false;
            line.sound = None;
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
        line.sound = None;
        let candidates = &self.candidates;
        self.out.retain(|out| {
            let mut seen = candidates[out.candidate].seen.iter();
            newest.s_since(out.since) > 60.0 || seen.all(|(of, _)| *of != sensor)
        });
        self.tell_opened();
    }

    /// A reading, and what each item of the floor was computed to draw as the sensor feels it.
    pub fn hear(&mut self, heard: &Heard, computed_a: &[f64]) -> Option<Rest> {
        self.hear_while(heard, computed_a, false)
    }

    /// The same. `disturbed`: something that is known and comes and goes may be out, so that it says nothing of
    /// what lasts.
    pub fn hear_while(
        &mut self,
        heard: &Heard,
        computed_a: &[f64],
        disturbed: bool,
    ) -> Option<Rest> {
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
            let whole = line.window.front().zip(line.window.back());
            let long = whole.is_some_and(|(first, last)| last.at.s_since(first.at) >= SOUND_S);
            line.looked = long.then_some(now);
        }
        for (sensors, explained) in news {
            self.conclude(&sensors, &explained, now, &stands);
        }
        for line in self.lines.iter_mut().filter(|line| !line.pending) {
            line.sound = line.looked.or(line.sound);
        }
        self.forget_what_is_over(now);
        self.tell_opened();
        &self.told
    }

    /// What others found of items that lack something: the share that each draws. Those that are not named
    /// draw what the baseline says.
    pub fn suppose(&mut self, lacking: &[(u32, f64)]) {
        let known = |item: u32| {
            let out = self.out.iter().filter(|out| out.until.is_none());
            out.map(|out| &self.candidates[out.candidate].takes)
                .any(|takes| takes.contains(&item))
        };
        let mut shares = self.base_shares.clone();
        for (item, share) in lacking.iter().filter(|(item, _)| !known(*item)) {
            shares[*item as usize] *= share;
        }
        for sensor in 0..self.lines.len() {
            let mut sees = self.lines[sensor].sees.iter();
            if sees.any(|&item| (shares[item as usize] - self.shares[item as usize]).abs() > 0.1) {
                self.begin_anew(sensor);
            }
        }
        self.shares = shares;
    }

    /// What was told last.
    pub const fn told(&self) -> &Told {
        &self.told
    }

    /// Whether some sensor reads what a sound floor does not explain.
    pub fn is_looking(&self) -> bool {
        self.lines.iter().any(|line| line.pending)
    }

    /// Whether this one does.
    pub fn is_looking_at(&self, sensor: usize) -> bool {
        self.lines.get(sensor).is_some_and(|line| line.pending)
    }

    /// Whether something may have opened a moment ago that it sees: it reads what a sound floor does not
    /// explain, and read what one does shortly before.
    pub fn may_have_opened(&self, sensor: usize) -> bool {
        self.lines.get(sensor).is_some_and(|line| {
            let newest = line.newest().unwrap_or_default();
            let was_sound = line.sound.map(|at| newest.s_since(at));
            line.pending && was_sound.is_some_and(|s| s <= self.rules.longest_s)
        })
    }
}
