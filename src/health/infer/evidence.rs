//! Readings in Gram form: sums of products that grow with no reading, and that can fade.

use super::cost::Cost;
use super::groups::{Group, Place, groups, place_of};
use super::matrix::Square;
use super::{Decision, Layout, Priors, chances};

/// All that was read, kept as products of what each reading depends on. A reading costs the square of
/// the number of items that its sensor sees lit; a decision costs the cube of the number of items that
/// have to be looked at together.
#[derive(Debug, Clone)]
pub struct Evidence {
    items: usize,
    blocks: Vec<Block>,
    places: Vec<Option<Place>>,
    row: Vec<(usize, f64)>,
}

#[derive(Debug, Clone)]
struct Block {
    group: Group,
    /// Sum of the weighted products of what each reading depends on.
    gram: Square,
    /// Sum of weighted products with what is read less than computed, and of its square.
    right: Vec<f64>,
    square: f64,
    readings: f64,
    /// Where the last search ended.
    last: Vec<f64>,
}

impl Evidence {
    /// Nothing is read yet.
    pub fn new(layout: &Layout) -> Self {
        let (groups, places) = groups(layout);
        let blocks = groups.into_iter().map(|group| Block {
            gram: Square::zero(group.unknowns()),
            right: vec![0.0; group.unknowns()],
            square: 0.0,
            readings: 0.0,
            last: vec![0.0; group.items.len()],
            group,
        });
        Self {
            items: layout.full_a.len(),
            blocks: blocks.collect(),
            places,
            row: Vec::new(),
        }
    }

    /// A reading of `sensor`, in amperes of the items beyond idle, its variance, and what each item
    /// of the layout was computed to draw beyond idle meanwhile. A sensor that sees nothing, or a reading
    /// that is no number, teaches nothing.
    pub fn add(&mut self, sensor: usize, computed_a: &[f64], reading_a: f64, variance: f64) {
        let Some(place) = place_of(&self.places, sensor, reading_a, variance) else {
            return;
        };
        let block = &mut self.blocks[place.group];
        let less = block.group.row(place.sensor, computed_a, &mut self.row) - reading_a;
        let weight = 1.0 / variance;
        for &(one, factor) in &self.row {
            let scaled = factor * weight;
            block.right[one] += scaled * less;
            let cells = block.gram.row_mut(one);
            for &(other, factor) in &self.row {
                cells[other] += scaled * factor;
            }
        }
        block.square += less * less * weight;
        block.readings += 1.0;
    }

    /// Makes all that was read so far count less, by this factor of its weight.
    pub fn forget(&mut self, keep: f64) {
        for block in &mut self.blocks {
            block.gram.scale(keep);
            for value in &mut block.right {
                *value *= keep;
            }
            block.square *= keep;
            block.readings *= keep;
        }
    }

    /// What all that says.
    pub fn decide(&mut self, priors: &Priors) -> Decision {
        let mut decision = Decision {
            chances: vec![None; self.items],
            misfit: 1.0,
        };
        for block in &mut self.blocks {
            if let Some(cost) = block.cost(priors) {
                chances::decide(
                    &block.group,
                    cost,
                    priors,
                    &mut block.last,
                    true,
                    &mut decision,
                );
            }
        }
        decision
    }
}

impl Block {
    fn cost(&self, priors: &Priors) -> Option<Cost> {
        let mut all = self.gram.clone();
        for (at, stiffness) in self.group.stiffness.iter().enumerate() {
            all.row_mut(at)[at] += stiffness;
        }
        let covariance = all.inverse()?;
        let mean = covariance.times(&self.right);
        let explained: f64 = mean.iter().zip(&self.right).map(|(a, b)| a * b).sum();
        let rest = (self.square - explained, self.readings);
        Some(Cost::new(&self.group, &covariance, &mean, rest, priors))
    }
}
