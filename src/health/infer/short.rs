//! What can be said of items together where it can't of each.
//!
//! A panel that is always lit in one colour draws too little when one of its segments is dead, but which
//! of them can't be told: called one by one each would be rather good. That not all of them are is as sure
//! as anything: it is asked how much worse everything would fit.

use super::cost::{Cost, Lacks};
use super::groups::Group;
use super::matrix::Square;
use super::{Decision, Priors, chances, search};

/// Less than this is known of no item: nothing can be said.
pub(super) const KNOWN: f64 = 25.0;

/// An item that is so probably good needs no longer look.
pub(super) const BEYOND_DOUBT: f64 = 0.95;

/// Items of one kind, as they are found together.
#[derive(Debug, Clone, PartialEq)]
pub struct Short {
    /// Their kind.
    pub kind: u32,
    /// Current that they lack together, if the likeliest explanation is right.
    pub lack_a: f64,
    /// Probability that all of them are good, as far as explanations are known.
    pub good: f64,
}

/// What evidence says of a group.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Weighed {
    /// As of [`Evidence::decide`](super::Evidence::decide); of items of other groups nothing.
    pub decision: Decision,
    /// The kinds among which something lacks.
    pub short: Vec<Short>,
    /// Of each item of the group, by how much it lacks, tolerance and all, if the likeliest explanation is
    /// right, and the standard deviation of that.
    pub lacks: Vec<(f64, f64)>,
    /// The same of each sensor: how much less is read than computed, as a share and in amperes.
    pub sensors: Vec<[(f64, f64); 2]>,
}

pub(super) fn weigh(
    group: &Group,
    cost: Cost,
    (covariance, right): (&Square, &[f64]),
    priors: &Priors,
    kinds: &[u32],
    (last, thorough): (&mut Vec<f64>, bool),
) -> Weighed {
    let mut decision = Decision {
        chances: vec![None; kinds.len()],
        misfit: 0.0,
    };
    let (cost, best) = chances::decide(group, cost, priors, last, thorough, &mut decision);
    // What was found to lack is no longer what has to be explained by tolerance, gain and offset: their
    // mean is covariance · (right − gram · lacks), and covariance · gram is 1 − covariance · stiffness.
    let mut known = right.to_vec();
    for ((value, lack), stiff) in known.iter_mut().zip(&best.lack).zip(&group.stiffness) {
        *value += lack * stiff;
    }
    let mean = covariance.times(&known);
    let told = |at: usize| (mean[at], covariance.row(at)[at].sqrt());
    Weighed {
        decision,
        short: short(group, &cost, &best, kinds),
        lacks: (0..group.items.len()).map(told).collect(),
        sensors: (0..group.sensors.len())
            .map(|sensor| [0, 1].map(|which| told(group.gain_of(sensor) + which)))
            .collect(),
    }
}

fn short(group: &Group, cost: &Cost, best: &Lacks, kinds: &[u32]) -> Vec<Short> {
    let kind = |at: usize| kinds[group.items[at]];
    let mut lacking: Vec<u32> = best.lacking().into_iter().map(kind).collect();
    lacking.sort_unstable();
    lacking.dedup();
    let least = search::total(cost, best);
    let of = |one: u32| {
        let held: Vec<bool> = (0..cost.items).map(|at| kind(at) == one).collect();
        let mut without = best.clone();
        let mut lack_a = 0.0;
        for at in (0..cost.items).filter(|&at| held[at]) {
            lack_a += best.lack[at] * group.full_a[at];
            without.set(cost, at, 0.0);
        }
        let without = search::with_held(cost, without, &held);
        let worse = 0.5 * (search::total(cost, &without) - least);
        Short {
            kind: one,
            lack_a,
            good: 1.0 / (1.0 + worse.exp()),
        }
    };
    lacking.into_iter().map(of).collect()
}
