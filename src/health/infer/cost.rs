//! How badly given lacks fit what was read, as a quadratic form.

use super::groups::Group;
use super::matrix::{Square, add_scaled};
use super::{DEAD_BELOW, Priors};

/// Whether a lack is that of a dead item; weak ones lack less.
pub(super) fn is_dead(lack: f64) -> bool {
    lack > 1.0 - 0.5 * DEAD_BELOW
}

/// The fit of one group: where the unknowns are `shift` from what they should be, the readings are
/// less probable by a factor exp(−½·(shiftᵀ·form·shift − 2·pullᵀ·shift)).
pub(super) struct Cost {
    /// Items come first, then gain and offset of each sensor.
    pub(super) form: Square,
    pub(super) pull: Vec<f64>,
    /// How many of the unknowns are items.
    pub(super) items: usize,
    /// What the readings cost when all is as it should be.
    pub(super) rest: f64,
    /// Readings that this comes from.
    pub(super) readings: f64,
    /// What it costs to call an item dead, and weak.
    dead: f64,
    weak: f64,
    /// The least and the most that a weak item lacks.
    weak_lack: (f64, f64),
}

impl Cost {
    /// From the covariance and the mean of the unknowns, were every item good: with Λ the inverse
    /// variances before anything was read, form = Λ − Λ·covariance·Λ and pull = Λ·mean.
    pub(super) fn new(
        group: &Group,
        covariance: &Square,
        mean: &[f64],
        (rest, readings): (f64, f64),
        priors: &Priors,
    ) -> Self {
        let stiff = &group.stiffness;
        let mut form = Square::zero(stiff.len());
        for at in 0..stiff.len() {
            let factors = covariance.row(at).iter().zip(stiff);
            for (cell, (value, stiffness)) in form.row_mut(at).iter_mut().zip(factors) {
                *cell = -stiff[at] * value * stiffness;
            }
            form.row_mut(at)[at] += stiff[at];
        }
        let good = (1.0 - priors.dead - priors.weak).max(1e-9);
        Self {
            form,
            pull: mean
                .iter()
                .zip(stiff)
                .map(|(mean, stiff)| mean * stiff)
                .collect(),
            items: group.items.len(),
            rest,
            readings,
            dead: 2.0 * (good / priors.dead).ln(),
            weak: 2.0 * (good / priors.weak).ln(),
            weak_lack: (1.0 - priors.good_from, 1.0 - DEAD_BELOW),
        }
    }

    /// Makes every difference of fits count less.
    pub(super) fn soften(&mut self, by: f64) {
        self.form.scale(1.0 / by);
        for pull in &mut self.pull {
            *pull /= by;
        }
        self.rest /= by;
    }

    /// Whether anything was read that depends on an item.
    pub(super) fn seen(&self, item: usize) -> bool {
        self.weight(item) > 1e-6
    }

    pub(super) fn weight(&self, item: usize) -> f64 {
        self.form.row(item)[item]
    }

    /// What a lack costs before anything is read.
    pub(super) fn penalty(&self, item: usize, lack: f64) -> f64 {
        if lack == 0.0 {
            0.0
        } else if is_dead(lack) {
            self.dead
        } else {
            // How much lack there is was chosen to fit, out of all that a weak item may have; the
            // sharper it is known, the more was chosen.
            let width = self.weak_lack.1 - self.weak_lack.0;
            let choice = width * width * self.weight(item) / (2.0 * std::f64::consts::PI);
            self.weak + choice.max(1.0).ln()
        }
    }

    /// What lacks cost together, against none.
    pub(super) fn of(&self, lacks: &Lacks) -> f64 {
        let mut sum = 0.0;
        for (item, &lack) in lacks.lack.iter().enumerate() {
            if lack != 0.0 {
                // pull − slope is form · lacks.
                sum -= lack * (self.pull[item] + lacks.slope[item]);
            }
        }
        sum
    }

    /// The lack that fits best if this item is weak.
    pub(super) fn best_weak(&self, lacks: &Lacks, item: usize) -> f64 {
        let there = lacks.lack[item] + lacks.slope[item] / self.weight(item);
        there.clamp(self.weak_lack.0, self.weak_lack.1)
    }

    /// How the fit changes when one item's lack becomes `to`: the readings' part and the penalties'.
    pub(super) fn change(&self, lacks: &Lacks, item: usize, to: f64) -> (f64, f64) {
        let step = to - lacks.lack[item];
        let fit = step * (self.weight(item) * step - 2.0 * lacks.slope[item]);
        (
            fit,
            self.penalty(item, to) - self.penalty(item, lacks.lack[item]),
        )
    }
}

/// A set of lacks, and the slope of the cost there (halved, downwards): pull − form · lacks.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Lacks {
    pub(super) lack: Vec<f64>,
    pub(super) slope: Vec<f64>,
}

impl Lacks {
    pub(super) fn none(cost: &Cost) -> Self {
        Self {
            lack: vec![0.0; cost.items],
            slope: cost.pull.clone(),
        }
    }

    pub(super) fn from(cost: &Cost, lack: &[f64]) -> Self {
        let mut lacks = Self::none(cost);
        for (item, &value) in lack.iter().enumerate() {
            lacks.set(cost, item, value);
        }
        lacks
    }

    pub(super) fn set(&mut self, cost: &Cost, item: usize, to: f64) {
        let step = to - self.lack[item];
        if step != 0.0 {
            self.lack[item] = to;
            add_scaled(&mut self.slope, cost.form.row(item), -step);
        }
    }

    /// The items that lack anything.
    pub(super) fn lacking(&self) -> Vec<usize> {
        (0..self.lack.len())
            .filter(|&item| self.lack[item] != 0.0)
            .collect()
    }
}
