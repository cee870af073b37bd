//! Which explanations of what was read there are, and how probable each is.
//!
//! An explanation is a set of things that happened. Each alone is tried; the best of them with everything
//! else besides; the best pairs once more. Their probabilities by Bayes' rule, against "nothing happened",
//! are what verdicts are made of.

use std::collections::{BTreeMap, BTreeSet};

use super::looked::Looked;
use super::scan::{Act, Left, Possible, Shape};
use super::whats::{Candidate, What};

/// So many of the best explanations are looked into further, at each depth.
const BREADTH: [usize; 2] = [6, 3];
/// Below this, as a logarithm against nothing, there is nothing to look into.
pub(super) const WORTH: f64 = -1.0;

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

/// One explanation.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Explanation {
    pub(super) acts: Vec<Act>,
    /// Logarithm of its probability against nothing.
    pub(super) weight: f64,
    left: Left,
}

/// All of them, with their probabilities; the first has no acts.
#[derive(Debug, Clone, Default)]
pub(super) struct Explained {
    pub(super) all: Vec<(Vec<Act>, f64)>,
    /// What the best leaves, against what noise explains.
    pub(super) misfit: f64,
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
    fn possible(&self, what: What, acts: &[Act]) -> Possible {
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

    /// What follows from `from` with one thing more; the best `breadth` with what they leave.
    fn further(
        &self,
        from: &Explanation,
        known: &[Possible],
        into: &mut BTreeMap<Vec<What>, Explanation>,
    ) {
        let overlaps = |what: What| {
            what.candidate().is_some_and(|at| {
                let takes = &self.candidates[at].takes;
                from.acts.iter().any(|act| {
                    let other = act.what.candidate();
                    other.is_some_and(|other| {
                        let other = &self.candidates[other].takes;
                        takes.iter().any(|item| other.contains(item))
                    })
                })
            })
        };
        let mut tell = |one: &Possible, since| {
            let Some(score) = one.score(&self.looked, &from.left, since) else {
                return;
            };
            let mut acts = from.acts.clone();
            acts.push(score.act);
            let mut key: Vec<What> = acts.iter().map(|act| act.what).collect();
            key.sort_unstable();
            let weight = from.weight + score.weight;
            let better = into.get(&key).is_none_or(|known| known.weight < weight);
            if weight.is_finite() && better {
                let left = Left::new();
                into.insert(key, Explanation { acts, weight, left });
            }
        };
        let mut last: Option<Possible> = None;
        for one in known {
            let there = from.acts.iter().any(|act| act.what == one.what);
            if there {
                continue;
            }
            if overlaps(one.what) {
                let again = match (one.what, last.take()) {
                    (What::Weak(at), Some(open)) if open.what == What::Open(at) => {
                        open.weak(self.candidates)
                    }
                    _ => self.possible(one.what, &from.acts),
                };
                tell(&again, None);
                last = Some(again);
            } else {
                tell(one, None);
            }
        }
        for act in &from.acts {
            if let What::Open(at) = act.what {
                let back = What::Back(at);
                if from.acts.iter().all(|act| act.what != back) {
                    tell(&self.possible(back, &[]), Some(act.at));
                }
            }
        }
    }

    fn with_left(&self, explanation: &Explanation, before: &Left, known: &[Possible]) -> Left {
        let Some((act, acts)) = explanation.acts.split_last() else {
            return before.clone();
        };
        let cached = known
            .iter()
            .find(|one| one.what == act.what && acts.is_empty());
        let one = cached.map_or_else(|| self.possible(act.what, acts), Possible::clone);
        one.without(*act, &self.looked, before)
    }

    fn start(&self) -> Explanation {
        let left = self.looked.iter();
        Explanation {
            acts: Vec::new(),
            weight: 0.0,
            left: left
                .map(|(sensor, of)| (*sensor, of.left_a.clone()))
                .collect(),
        }
    }

    /// What each thing alone would explain: for finding out which sensors belong together.
    pub(super) fn singles(&self) -> Vec<(What, f64)> {
        let left = self.start().left;
        let mut weights = Vec::new();
        for what in self.everything() {
            if self.is_hopeless(what) {
                continue;
            }
            let score = self.possible(what, &[]).score(&self.looked, &left, None);
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
    fn is_hopeless(&self, what: What) -> bool {
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
            let mut adds = self.adds(*sensor, places, &candidate.takes, &[]);
            if matches!(what, What::Held(_)) {
                for add in &mut adds {
                    *add = -*add;
                }
                best += looked.most_of_held(&adds, part);
            } else {
                best += looked.most(&adds, part);
            }
        }
        best < HOPE
    }

    /// All explanations worth mentioning.
    pub(super) fn explain(&self, known: &[Possible]) -> Explained {
        let nothing = self.start();
        let mut best_left = nothing.left.clone();
        let mut best_weight = 0.0;
        let mut all: BTreeMap<Vec<What>, Explanation> = BTreeMap::new();
        all.insert(Vec::new(), nothing.clone());
        let mut frontier = vec![nothing];
        for depth in 0..=BREADTH.len() {
            let mut next = BTreeMap::new();
            for from in &frontier {
                self.further(from, known, &mut next);
            }
            let most = next.values().map(|one| one.weight).fold(WORTH, f64::max);
            // More that happened must explain more.
            let worth = most > WORTH && most > best_weight - 12.0;
            let mut ordered: Vec<&Explanation> = next.values().collect();
            ordered.sort_by(|a, b| b.weight.total_cmp(&a.weight));
            let mut chosen = Vec::new();
            if worth {
                let breadth = BREADTH.get(depth).copied().unwrap_or(1);
                for one in ordered.into_iter().take(breadth) {
                    let from = frontier.iter().find(|from| {
                        from.acts.len() + 1 == one.acts.len() && one.acts.starts_with(&from.acts)
                    });
                    if let Some(from) = from {
                        let left = self.with_left(one, &from.left, known);
                        if one.weight > best_weight {
                            best_weight = one.weight;
                            best_left.clone_from(&left);
                        }
                        chosen.push(Explanation {
                            left,
                            ..one.clone()
                        });
                    }
                }
            }
            all.extend(next);
            if chosen.is_empty() || depth == BREADTH.len() {
                break;
            }
            frontier = chosen;
        }
        let misfits = best_left.iter();
        let misfit = misfits
            .map(|(sensor, left)| self.looked[sensor].misfit(left))
            .fold(0.0, f64::max);
        let temper = misfit.max(1.0);
        let most = all.values().map(|one| one.weight).fold(0.0, f64::max);
        let each = all.into_values();
        let mut all: Vec<(Vec<Act>, f64)> = each
            .map(|one| (one.acts, ((one.weight - most) / temper).exp()))
            .collect();
        let sum: f64 = all.iter().map(|(_, weight)| weight).sum();
        for (_, weight) in &mut all {
            *weight /= sum;
        }
        Explained { all, misfit }
    }
}

/// Those that are not over: what opened and is closed again is no fault that lasts.
pub(super) fn lasting(acts: &[Act]) -> impl Iterator<Item = &Act> {
    acts.iter().filter(|act| match act.what {
        What::Back(_) => false,
        What::Open(at) => acts.iter().all(|other| other.what != What::Back(at)),
        _ => true,
    })
}

/// What opened and is closed again: the candidate, from when to when.
pub(super) fn passing(acts: &[Act]) -> impl Iterator<Item = (usize, Act, Act)> + '_ {
    acts.iter().filter_map(|act| {
        let What::Open(at) = act.what else {
            return None;
        };
        let back = acts.iter().find(|other| other.what == What::Back(at))?;
        Some((at, *act, *back))
    })
}

impl Explained {
    /// How probable it is that one of the things that happened, and is so still, is such.
    pub(super) fn chance(&self, is: impl Fn(What) -> bool) -> f64 {
        let with = self.all.iter();
        with.filter(|(acts, _)| lasting(acts).any(|act| is(act.what)))
            .map(|(_, chance)| chance)
            .sum()
    }

    /// How probable it is that nothing lasts of all that happened.
    pub(super) fn nothing(&self) -> f64 {
        self.all
            .iter()
            .filter(|(acts, _)| lasting(acts).next().is_none())
            .map(|(_, chance)| chance)
            .sum()
    }

    /// The most probable explanation.
    pub(super) fn best(&self) -> &[Act] {
        let best = self.all.iter().max_by(|a, b| a.1.total_cmp(&b.1));
        best.map_or(&[], |(acts, _)| acts)
    }
}
