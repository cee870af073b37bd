//! The search for the cheapest set of causes.

use std::borrow::Cow;
use std::collections::BTreeSet;

use super::{Claim, Effect, Found, Guess, price};
use crate::health::belief::Belief;
use crate::health::joints::{Joints, Wire};

/// Causes are exchanged until nothing is cheaper, and this many times at most.
const MOST_ROUNDS: usize = 2_000;

/// What is less likely than this is not told as another explanation.
const LEAST_TOLD: f64 = 0.05;

/// Other explanations that are told.
const MOST_TOLD: usize = 4;

/// What a guess takes, ascending.
fn takes(joints: &Joints, guess: Guess) -> Cow<'_, [u32]> {
    match guess {
        Guess::Open(joint) | Guess::Resistive(joint) => Cow::Borrowed(&joints.joints[joint].takes),
        #[expect(clippy::cast_possible_truncation, reason = "an index of an item")]
        Guess::Dead(item) | Guess::Weak(item) | Guess::Stuck(item) => Cow::Owned(vec![item as u32]),
    }
}

pub(super) struct Search<'a> {
    joints: &'a Joints,
    beliefs: &'a [Belief],
    claims: &'a [Claim],
    candidates: Vec<Guess>,
    /// What each of them takes.
    takes: Vec<Cow<'a, [u32]>>,
    /// How what each of them takes is, and what it costs to believe in it.
    effects: Vec<Effect>,
    prices: Vec<f64>,
    /// Candidates that take an item, as indices.
    taking: Vec<Vec<u32>>,
    /// How many of those chosen take an item, by their effect.
    counts: Vec<[u16; Effect::ALL.len()]>,
    /// Which candidates are believed in.
    chosen: BTreeSet<usize>,
}

impl<'a> Search<'a> {
    pub(super) fn new(joints: &'a Joints, beliefs: &'a [Belief], claims: &'a [Claim]) -> Self {
        let suspicious: Vec<bool> = beliefs
            .iter()
            .map(|belief| belief.is_suspicious())
            .collect();
        let mut candidates = Vec::new();
        for (at, joint) in joints.joints.iter().enumerate() {
            if joint.takes.iter().any(|&item| suspicious[item as usize]) {
                candidates.push(Guess::Open(at));
                if joint.wire == Wire::Supply {
                    candidates.push(Guess::Resistive(at));
                }
            }
        }
        for (item, _) in suspicious.iter().enumerate().filter(|(_, is)| **is) {
            candidates.extend([Guess::Dead(item), Guess::Weak(item), Guess::Stuck(item)]);
        }
        let takes: Vec<Cow<'a, [u32]>> = candidates
            .iter()
            .map(|guess| takes(joints, *guess))
            .collect();
        let mut taking = vec![Vec::new(); beliefs.len()];
        for (at, takes) in takes.iter().enumerate() {
            for &item in takes.iter() {
                #[expect(clippy::cast_possible_truncation, reason = "a few for each item")]
                taking[item as usize].push(at as u32);
            }
        }
        let of = |guess: &Guess| (Effect::of(joints, *guess), price(joints, *guess));
        let (effects, prices) = candidates.iter().map(of).unzip();
        Self {
            joints,
            beliefs,
            claims,
            candidates,
            takes,
            effects,
            prices,
            taking,
            counts: vec![[0; Effect::ALL.len()]; beliefs.len()],
            chosen: BTreeSet::new(),
        }
    }

    /// How an item is with these causes in the place of those chosen.
    fn effect(&self, item: u32, without: &[usize], with: Option<usize>) -> Effect {
        let mut counts = self.counts[item as usize];
        let takes = |at: &usize| self.takes[*at].binary_search(&item).is_ok();
        for &at in without.iter().filter(|at| takes(at)) {
            counts[self.effects[at] as usize] -= 1;
        }
        if let Some(at) = with.filter(takes) {
            counts[self.effects[at] as usize] += 1;
        }
        let worst = Effect::ALL.into_iter().rev();
        let mut worst = worst.filter(|effect| counts[*effect as usize] > 0);
        worst.next().unwrap_or(Effect::Good)
    }

    /// What it adds to the total, less than zero if that falls, to take some away and add another.
    fn change(&self, without: &[usize], with: Option<usize>) -> f64 {
        let price = |at: usize| self.prices[at];
        let gone_price: f64 = without.iter().copied().map(price).sum();
        let mut change = with.map_or(0.0, price) - gone_price;
        let all = without.iter().copied().chain(with);
        let mut touched: Vec<u32> = all.flat_map(|at| self.takes[at].iter().copied()).collect();
        touched.sort_unstable();
        touched.dedup();
        for &item in &touched {
            let belief = &self.beliefs[item as usize];
            let was = self.effect(item, &[], None);
            let is = self.effect(item, without, with);
            if was != is {
                change += is.price(belief) - was.price(belief);
            }
        }
        for claim in self.claims {
            let own = &self.joints.of_panel[claim.panel];
            if touched.iter().any(|item| own.contains(&(*item as usize))) {
                let met = |without: &[usize], with| {
                    own.clone().any(|item| {
                        #[expect(clippy::cast_possible_truncation, reason = "an index")]
                        let effect = self.effect(item as u32, without, with);
                        effect != Effect::Good
                    })
                };
                match (met(&[], None), met(without, with)) {
                    (false, true) => change -= claim.weight,
                    (true, false) => change += claim.weight,
                    _ => {}
                }
            }
        }
        change
    }

    fn exchange(&mut self, without: &[usize], with: Option<usize>) {
        for &at in without {
            self.chosen.remove(&at);
            for &item in self.takes[at].iter() {
                self.counts[item as usize][self.effects[at] as usize] -= 1;
            }
        }
        if let Some(at) = with {
            self.chosen.insert(at);
            for &item in self.takes[at].iter() {
                self.counts[item as usize][self.effects[at] as usize] += 1;
            }
        }
    }

    /// Other candidates that share an item with this one.
    fn beside(&self, at: usize) -> BTreeSet<usize> {
        let items = self.takes[at].iter();
        let others = items.flat_map(|&item| &self.taking[item as usize]);
        others
            .map(|&other| other as usize)
            .filter(|&other| other != at && !self.chosen.contains(&other))
            .collect()
    }

    pub(super) fn run(mut self) -> Vec<Found> {
        const LITTLE: f64 = -1e-9;
        let mut gains: Vec<f64> = (0..self.candidates.len())
            .map(|at| self.change(&[], Some(at)))
            .collect();
        for _ in 0..MOST_ROUNDS {
            let free = (0..self.candidates.len()).filter(|at| !self.chosen.contains(at));
            let best = free.min_by(|a, b| gains[*a].total_cmp(&gains[*b]));
            let step = best
                .filter(|&best| gains[best] < LITTLE)
                .map(|best| (Vec::new(), Some(best)))
                .or_else(|| self.better(LITTLE));
            let changed = if let Some((without, with)) = step {
                self.exchange(&without, with);
                without.into_iter().chain(with).collect()
            } else if let Some((one, two)) = self.split(LITTLE) {
                self.exchange(&[one], Some(two[0]));
                self.exchange(&[], Some(two[1]));
                vec![one, two[0], two[1]]
            } else {
                break;
            };
            let mut touched: BTreeSet<usize> = changed.iter().copied().collect();
            touched.extend(changed.into_iter().flat_map(|at| self.beside(at)));
            for at in touched {
                gains[at] = self.change(&[], Some(at));
            }
        }
        self.tell()
    }

    /// The best exchange or removal, if one lowers the total by more than `little`: one cause for one
    /// other, for none, or all causes that take only what another one takes as well for that one.
    fn better(&self, little: f64) -> Option<(Vec<usize>, Option<usize>)> {
        let mut best = (little, None);
        let mut offer = |without: Vec<usize>, with| {
            let change = self.change(&without, with);
            if change < best.0 {
                best = (change, Some((without, with)));
            }
        };
        let mut beside = BTreeSet::new();
        for &at in &self.chosen {
            offer(vec![at], None);
            for other in self.beside(at) {
                offer(vec![at], Some(other));
                beside.insert(other);
            }
        }
        for with in beside {
            let all = &self.takes[with];
            let covered = |at: &&usize| {
                let mut takes = self.takes[**at].iter();
                takes.all(|item| all.binary_search(item).is_ok())
            };
            let without: Vec<usize> = self.chosen.iter().filter(covered).copied().collect();
            if without.len() > 1 {
                offer(without, Some(with));
            }
        }
        best.1
    }

    /// A cause that takes good items as well, and the two inside it that lower the total most in its
    /// place, if they do so by more than `little`: to add either alone beside it lowers nothing.
    fn split(&mut self, little: f64) -> Option<(usize, [usize; 2])> {
        let beliefs = self.beliefs;
        let suspicious = |item: &u32| beliefs[*item as usize].is_suspicious();
        let mixed = |at: &&usize| !self.takes[**at].iter().all(suspicious);
        let mixed: Vec<usize> = self.chosen.iter().filter(mixed).copied().collect();
        let mut best = (little, None);
        for one in mixed {
            let all = self.takes[one].clone();
            let pure = |at: &usize| {
                let mut takes = self.takes[*at].iter();
                takes.all(|item| suspicious(item) && all.binary_search(item).is_ok())
            };
            let inside: Vec<usize> = self.beside(one).into_iter().filter(pure).collect();
            for (at, &first) in inside.iter().enumerate() {
                let change = self.change(&[one], Some(first));
                self.exchange(&[one], Some(first));
                for &second in &inside[at + 1..] {
                    let change = change + self.change(&[], Some(second));
                    if change < best.0 {
                        best = (change, Some((one, [first, second])));
                    }
                }
                self.exchange(&[first], Some(one));
            }
        }
        best.1
    }

    fn tell(&self) -> Vec<Found> {
        let told = |&at: &usize| {
            let others = self.beside(at).into_iter();
            let mut others: Vec<(Guess, f64)> = others
                .map(|other| {
                    let worse = self.change(&[at], Some(other));
                    (self.candidates[other], (-worse).exp())
                })
                .collect();
            let none = (-self.change(&[at], None)).exp();
            let total = 1.0 + none + others.iter().map(|(_, weight)| weight).sum::<f64>();
            for (_, weight) in &mut others {
                *weight /= total;
            }
            others.retain(|(_, chance)| *chance >= LEAST_TOLD);
            others.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
            others.truncate(MOST_TOLD);
            Found {
                guess: self.candidates[at],
                chance: 1.0 / total,
                others,
                takes: self.takes[at].to_vec(),
            }
        };
        let mut found: Vec<Found> = self.chosen.iter().map(told).collect();
        found.sort_by_key(|found| (found.takes.first().copied(), found.guess));
        found
    }
}
