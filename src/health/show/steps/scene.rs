//! The windows of some sensors, and what each thing that may have happened would do to them.

use std::collections::{BTreeMap, BTreeSet};

use super::looked::Looked;
use super::scan::{Act, HARDLY, Left, Possible, Shape};
use super::whats::{Candidate, What};

/// What explains less than this, as a logarithm, by the kindest reckoning is not reckoned out.
const HOPE: f64 = 5.0;

/// Windows of sensors that are looked at together.
#[derive(Debug, Clone)]
pub(super) struct Scene<'a> {
    pub(super) candidates: &'a [Candidate],
    pub(super) looked: BTreeMap<usize, Looked>,
    /// Of each sensor and reading, what each item that it sees would draw if nothing more happened.
    pub(super) drawn_a: BTreeMap<usize, Vec<Vec<f64>>>,
    /// What would flow again if what was found open were closed, by its number and sensor.
    pub(super) closing_a: Vec<BTreeMap<usize, Vec<f64>>>,
    /// Of each candidate, whether all sensors that see it are here.
    pub(super) whole: Vec<bool>,
}

impl Scene<'_> {
    /// The part that these sensors see, with what they see all of.
    pub(super) fn part(&self, sensors: &BTreeSet<usize>) -> Self {
        let mut part = self.clone();
        part.looked.retain(|sensor, _| sensors.contains(sensor));
        part.drawn_a.retain(|sensor, _| sensors.contains(sensor));
        for (candidate, whole) in self.candidates.iter().zip(&mut part.whole) {
            let mut seen = candidate.seen.iter().map(|(sensor, _)| sensor);
            *whole &=
                seen.all(|sensor| sensors.contains(sensor) || !self.looked.contains_key(sensor));
        }
        for closing_a in &mut part.closing_a {
            if closing_a.keys().any(|sensor| !sensors.contains(sensor)) {
                closing_a.clear();
            }
        }
        part
    }

    fn adds(&self, sensor: usize, places: &[usize], takes: &[u32], acts: &[Act]) -> Vec<f64> {
        let drawn = &self.drawn_a[&sensor];
        let mut adds: Vec<f64> = drawn
            .iter()
            .map(|cells| -places.iter().map(|&place| cells[place]).sum::<f64>())
            .collect();
        // What is out already can't go out again.
        let others: Vec<(&Act, Vec<usize>)> = acts
            .iter()
            .filter_map(|act| {
                let other = &self.candidates[act.what.candidate()?];
                let of = other.seen.iter().find(|(of, _)| *of == sensor)?;
                let common = of.1.iter().copied().filter(|place| places.contains(place));
                let overlaps = other.takes.iter().any(|item| takes.contains(item));
                overlaps.then(|| (act, common.collect()))
            })
            .collect();
        if others.is_empty() {
            return adds;
        }
        let times = &self.looked[&sensor].times;
        for (at, add) in adds.iter_mut().enumerate() {
            let out = |place: usize| {
                others
                    .iter()
                    .filter(|(act, common)| times[at] >= act.at && common.contains(&place))
                    .map(|(act, _)| act.size.clamp(0.0, 1.0))
                    .fold(0.0, f64::max)
            };
            *add = -places
                .iter()
                .map(|&place| drawn[at][place] * (1.0 - out(place)))
                .sum::<f64>();
        }
        adds
    }

    /// What something would do to each sensor, after what is taken to have happened.
    pub(super) fn possible(&self, what: What, acts: &[Act]) -> Possible {
        let of = |candidate: usize, acts: &[Act]| {
            let candidate = &self.candidates[candidate];
            let seen = candidate.seen.iter();
            let seen = seen.filter(|(sensor, _)| self.looked.contains_key(sensor));
            seen.map(|(sensor, places)| {
                (*sensor, self.adds(*sensor, places, &candidate.takes, acts))
            })
            .collect::<Vec<_>>()
        };
        let ones = |sensor: usize| self.looked.get(&sensor).map_or(0, Looked::len);
        let totals = |sensor: usize| -> Vec<f64> {
            let cells = self.drawn_a.get(&sensor);
            let sums = cells.map(|all| all.iter().map(|cells| cells.iter().sum()).collect());
            sums.unwrap_or_default()
        };
        let plain = |all: Vec<(usize, Vec<f64>)>| -> Vec<(usize, Shape)> {
            all.into_iter()
                .map(|(sensor, adds)| (sensor, Shape::Plain(adds)))
                .collect()
        };
        let negative = |adds: Vec<f64>| adds.into_iter().map(|add| -add).collect();
        let most_a = what
            .sensor()
            .map_or(0.0, |sensor| totals(sensor).into_iter().fold(0.0, f64::max));
        let shapes = match what {
            What::Open(at) | What::Weak(at) => plain(of(at, acts)),
            What::Held(at) => of(at, acts)
                .into_iter()
                .map(|(sensor, adds)| (sensor, Shape::Held(negative(adds))))
                .collect(),
            What::Back(at) => {
                let all = of(at, &[]).into_iter();
                plain(all.map(|(sensor, adds)| (sensor, negative(adds))).collect())
            }
            What::Close(at) => {
                let all = self.closing_a[at].iter();
                plain(all.map(|(sensor, adds)| (*sensor, adds.clone())).collect())
            }
            What::Offset(at) => plain(vec![(at, vec![1.0; ones(at)])]),
            What::Gain(at) => plain(vec![(at, totals(at))]),
            What::Drift(at) => {
                let times = self.looked.get(&at).map_or(&[][..], |of| &of.times);
                let since = times.iter().map(|time| -time.s_since(times[0])).collect();
                vec![(at, Shape::Held(since))]
            }
        };
        Possible::new(what, shapes, most_a, self.candidates, &self.looked)
    }

    /// All that may have happened alone.
    fn everything(&self) -> Vec<What> {
        let mut all = Vec::new();
        for at in (0..self.candidates.len()).filter(|at| self.whole[*at]) {
            all.extend([What::Open(at), What::Weak(at)]);
            if self.candidates[at].holds {
                all.push(What::Held(at));
            }
        }
        for &sensor in self.looked.keys() {
            all.extend([
                What::Offset(sensor),
                What::Gain(sensor),
                What::Drift(sensor),
            ]);
        }
        let closing = (0..self.closing_a.len()).filter(|at| !self.closing_a[*at].is_empty());
        all.extend(closing.map(What::Close));
        all
    }

    /// What is left of readings when nothing is taken to have happened.
    pub(super) fn left(&self) -> Left {
        let looked = self.looked.iter();
        looked
            .map(|(sensor, of)| (*sensor, of.left_a.clone()))
            .collect()
    }

    /// What each thing alone would explain: for finding out which sensors belong together.
    pub(super) fn singles(&self) -> Vec<(What, f64)> {
        let left = self.left();
        let mut weights = Vec::new();
        for what in self.everything() {
            if self.is_hopeless(what, &[], &left) {
                continue;
            }
            let score = self
                .possible(what, &[])
                .score(&self.looked, &left, |_| true, HARDLY);
            weights.extend(score.map(|score| (what, score.weight)));
        }
        weights
    }

    /// All that may have happened, with what it would do.
    pub(super) fn all_possible(&self) -> Vec<Possible> {
        let mut all: Vec<Possible> = Vec::new();
        for what in self.everything() {
            let one = match (what, all.last()) {
                (What::Weak(_), Some(open)) => open.weak(self.candidates),
                _ => self.possible(what, &[]),
            };
            all.push(one);
        }
        all
    }

    /// Whether something surely explains nothing by itself. The score is a − b/2; a costs little, and b is
    /// at least a part of what it would be if nothing were uncertain: a small part where many items
    /// go out together, which much that is uncertain looks like.
    pub(super) fn is_hopeless(&self, what: What, acts: &[Act], left: &Left) -> bool {
        let Some(at) = what.candidate() else {
            return false;
        };
        let candidate = &self.candidates[at];
        let part = match candidate.takes.len() {
            ..=4 => 0.125,
            5..=8 => 0.02,
            _ => 0.002,
        };
        let mut best = 0.0_f64;
        for (sensor, places) in &candidate.seen {
            let Some(looked) = self.looked.get(sensor) else {
                continue;
            };
            let mut adds = self.adds(*sensor, places, &candidate.takes, acts);
            let left_a = &left[sensor];
            if matches!(what, What::Held(_)) {
                for add in &mut adds {
                    *add = -*add;
                }
                best += looked.most_of_held(&adds, left_a, part);
            } else {
                best += looked.most(&adds, left_a, part);
            }
        }
        best < HOPE
    }
}
