//! Which explanations of what was read there are, and how probable each is.
//!
//! An explanation is a set of things that happened. Each alone is tried; the best of them with everything
//! else besides; the best pairs once more; then everything in the place of each thing of the best. Their
//! probabilities by Bayes' rule, against "nothing happened", are what verdicts are made of.

use std::collections::BTreeMap;

use super::explained::Explained;
use super::scan::{Act, HARDLY, Left, Possible};
use super::scene::Scene;
use super::whats::What;
use crate::units::Time;

/// So many things may have happened within a window.
const DEPTH: usize = 3;
/// So many of the best explanations are looked into further; of one thing so many that open, so many others:
/// of two that opened one after the other, each alone may explain little.
const BREADTH: usize = 4;
const SEEDS: (usize, usize) = (30, 8);
/// So many are looked at closely before those are chosen, in so many rounds.
const REFINED: usize = 16;
const SWEEPS: usize = 2;
/// Exchanges are tried so often.
const ROUNDS: usize = 5;
/// Below this, as a logarithm against nothing, there is nothing to look into.
pub(super) const WORTH: f64 = -1.0;

/// One explanation.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Explanation {
    pub(super) acts: Vec<Act>,
    /// Logarithm of its probability against nothing.
    pub(super) weight: f64,
    left: Left,
}

impl Scene<'_> {
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
        let mut tell = |one: &Possible, since: Option<Time>| {
            let may = |moment| since.is_none_or(|since| moment > since);
            let Some(score) = one.score(&self.looked, &from.left, may, HARDLY) else {
                return;
            };
            let mut acts = from.acts.clone();
            acts.push(score.act);
            let key = key(&acts);
            let weight = from.weight + score.weight;
            let better = into.get(&key).is_none_or(|known| known.weight < weight);
            if weight.is_finite() && better {
                let left = Left::new();
                into.insert(key, Explanation { acts, weight, left });
            }
        };
        let mut last: Option<Possible> = None;
        for one in known {
            // The same can't go out twice.
            let same = one.what.candidate();
            let there = from
                .acts
                .iter()
                .any(|act| act.what == one.what || same.is_some() && act.what.candidate() == same);
            if there {
                continue;
            }
            if overlaps(one.what) {
                if self.is_hopeless(one.what, &from.acts, &from.left) {
                    continue;
                }
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

    /// What is left once all of these are taken for true, one after the other.
    fn left_by(&self, acts: &[Act]) -> Left {
        let mut left = self.left();
        for (at, act) in acts.iter().enumerate() {
            let one = self.possible(act.what, &acts[..at]);
            left = one.without(*act, &self.looked, &left);
        }
        left
    }

    /// The same things, each at the moment that is the best beside the others: what seemed best for one alone
    /// had to make up for what others do.
    fn refined(&self, explanation: &Explanation) -> Explanation {
        let mut acts = explanation.acts.clone();
        for _ in 0..SWEEPS {
            for at in 0..acts.len() {
                let mut others = acts.clone();
                let act = others.remove(at);
                let (from, to) = bounds(act.what, &others);
                let left = self.left_by(&others);
                let may = |moment| moment > from && moment < to;
                let score = self.possible(act.what, &others).score(
                    &self.looked,
                    &left,
                    may,
                    f64::NEG_INFINITY,
                );
                if let Some(score) = score {
                    acts[at] = score.act;
                }
            }
        }
        self.weighed(acts)
    }

    /// These, each at its moment, one after the other.
    fn weighed(&self, acts: Vec<Act>) -> Explanation {
        let mut left = self.left();
        let mut weight = 0.0;
        for (at, act) in acts.iter().enumerate() {
            let one = self.possible(act.what, &acts[..at]);
            weight += one.weigh(*act, &self.looked, &left);
            left = one.without(*act, &self.looked, &left);
        }
        Explanation { acts, weight, left }
    }

    /// Puts everything else in the place of each thing of the best explanation, until nothing is better. What
    /// is not better tells how sure the best is.
    fn exchanged(&self, all: &mut BTreeMap<Vec<What>, Explanation>, known: &[Possible]) {
        for _ in 0..ROUNDS {
            let best = all.values().max_by(|a, b| a.weight.total_cmp(&b.weight));
            let Some(best) = best.filter(|best| best.acts.len() > 1).cloned() else {
                return;
            };
            for at in 0..best.acts.len() {
                let mut others = best.acts.clone();
                let act = others.remove(at);
                let orphan = matches!(act.what, What::Open(of) if others.iter().any(|one| one.what == What::Back(of)));
                if !orphan {
                    self.further(&self.weighed(others), known, all);
                }
            }
            let better = all.values().max_by(|a, b| a.weight.total_cmp(&b.weight));
            let Some(better) = better.filter(|better| better.weight > best.weight + 0.1) else {
                return;
            };
            let refined = self.refined(better);
            if refined.weight > better.weight {
                all.insert(key(&refined.acts), refined);
            }
        }
    }

    /// All explanations worth mentioning.
    pub(super) fn explain(&self, known: &[Possible]) -> Explained {
        let nothing = Explanation {
            acts: Vec::new(),
            weight: 0.0,
            left: self.left(),
        };
        let mut best_weight = 0.0;
        let mut all: BTreeMap<Vec<What>, Explanation> = BTreeMap::new();
        all.insert(Vec::new(), nothing.clone());
        let mut frontier = vec![nothing];
        for depth in 0..DEPTH {
            let mut next = BTreeMap::new();
            for from in &frontier {
                self.further(from, known, &mut next);
            }
            let most = next.values().map(|one| one.weight).fold(WORTH, f64::max);
            // More that happened must explain more.
            let worth = most > WORTH && most > best_weight - 12.0;
            let mut chosen = Vec::new();
            if worth {
                let mut ordered: Vec<&Explanation> = next.values().collect();
                ordered.sort_by(|a, b| b.weight.total_cmp(&a.weight));
                let first: Vec<Explanation> = if depth == 0 {
                    seeds(&ordered)
                } else {
                    ordered.into_iter().take(REFINED).cloned().collect()
                };
                for mut one in first {
                    if depth > 0 {
                        let better = self.refined(&one);
                        if better.weight > one.weight {
                            one = better;
                        }
                    }
                    next.insert(key(&one.acts), one.clone());
                    chosen.push(one);
                }
                chosen.sort_by(|a, b| b.weight.total_cmp(&a.weight));
                if depth > 0 {
                    chosen.truncate(BREADTH);
                }
                for one in &mut chosen {
                    one.left = self.left_by(&one.acts);
                    if one.weight > best_weight {
                        best_weight = one.weight;
                    }
                }
            }
            all.extend(next);
            if chosen.is_empty() {
                break;
            }
            frontier = chosen;
        }
        self.exchanged(&mut all, known);
        let best = all.values().max_by(|a, b| a.weight.total_cmp(&b.weight));
        let acts = best.map_or(Vec::new(), |best| best.acts.clone());
        let best_left = self.left_by(&acts);
        let first = acts.iter().map(|act| act.at).min();
        let misfits = best_left.iter();
        let misfit = misfits
            .map(|(sensor, left)| self.looked[sensor].misfit(left, first))
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

/// The best of one thing, of each kind some.
fn seeds(ordered: &[&Explanation]) -> Vec<Explanation> {
    let opens = |one: &&&Explanation| {
        matches!(
            one.acts[..],
            [Act {
                what: What::Open(_),
                ..
            }]
        )
    };
    let some = ordered.iter().filter(opens).take(SEEDS.0);
    let others = ordered.iter().filter(|one| !opens(one)).take(SEEDS.1);
    some.chain(others).map(|one| (*one).clone()).collect()
}

/// By which explanations are told apart.
fn key(acts: &[Act]) -> Vec<What> {
    let mut key: Vec<What> = acts.iter().map(|act| act.what).collect();
    key.sort_unstable();
    key
}

/// Between which moments something may have happened: what is closed again was open before.
fn bounds(what: What, others: &[Act]) -> (Time, Time) {
    let of = |other: What| {
        others
            .iter()
            .find(|act| act.what == other)
            .map(|act| act.at)
    };
    let end = Time(u64::MAX);
    match what {
        What::Back(at) => (of(What::Open(at)).unwrap_or_default(), end),
        What::Open(at) => (Time(0), of(What::Back(at)).unwrap_or(end)),
        _ => (Time(0), end),
    }
}
