//! Readings in Gram form: sums of products that grow with no reading, and that can fade.

use super::cost::Cost;
use super::groups::{Group, Place, groups, place_of};
use super::matrix::{Square, add_scaled};
use super::short::{self, Weighed};
use super::{Chance, Decision, Layout, Priors, chances};

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

    /// Nothing is read yet, and how much each item may differ from what was computed is known better than
    /// by the layout's tolerance.
    pub fn with_tolerances(layout: &Layout, tolerances: &[f64]) -> Self {
        let mut evidence = Self::new(layout);
        for block in &mut evidence.blocks {
            block.group.be_within(tolerances);
        }
        evidence
    }

    /// How many groups of items can be looked at apart.
    pub fn groups(&self) -> usize {
        self.blocks.len()
    }

    /// The items of one of them.
    pub fn items_of(&self, group: usize) -> &[usize] {
        &self.blocks[group].group.items
    }

    /// The sensors of one of them.
    pub fn sensors_of(&self, group: usize) -> &[usize] {
        &self.blocks[group].group.sensors
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
            block.forget(keep);
        }
    }

    /// Forgets all that was read of groups that hold any of these items.
    pub fn forget_groups_of(&mut self, items: &[u32]) {
        for block in &mut self.blocks {
            let mut own = block.group.items.iter();
            if own.any(|item| items.iter().any(|&one| one as usize == *item)) {
                block.forget(0.0);
            }
        }
    }

    /// Takes what other evidence of the same layout says as well.
    pub fn take(&mut self, other: &Self) {
        for (block, other) in self.blocks.iter_mut().zip(&other.blocks) {
            block.take(other);
        }
    }

    /// Reckons the sensors' offsets out of what was read so far: what is read from now on has offsets of
    /// its own, that may be anything that those before might have been.
    pub fn let_offsets_change(&mut self) {
        for block in &mut self.blocks {
            for sensor in 0..block.group.sensors.len() {
                let offset = block.group.gain_of(sensor) + 1;
                block.reckon_out(offset, block.group.stiffness[offset]);
            }
        }
    }

    /// From now on these items may be as they were or not: what was read so far says nothing of them.
    pub fn let_items_change(&mut self, items: &[u32]) {
        for block in &mut self.blocks {
            for at in 0..block.group.items.len() {
                let item = block.group.items[at];
                if items.iter().any(|&one| one as usize == item) {
                    block.reckon_out(at, 0.0);
                    block.last[at] = 0.0;
                }
            }
        }
    }

    /// What all that, and what other evidence of the same layout has beside it, says of one group, of each
    /// item and of those of each kind together. Nothing if not even one item could be told to be dead. Where
    /// a short look finds every item good beyond doubt, no longer one is taken.
    pub fn weigh(
        &mut self,
        beside: &Self,
        group: usize,
        priors: &Priors,
        kinds: &[u32],
    ) -> Option<Weighed> {
        let mut both = self.blocks[group].clone();
        both.take(&beside.blocks[group]);
        if both.most_weight() < short::KNOWN {
            return None;
        }
        let (cost, covariance) = both.cost(priors)?;
        let known = (&covariance, &both.right[..]);
        let last = &mut self.blocks[group].last;
        let short = short::weigh(&both.group, cost, known, priors, kinds, (last, false));
        let doubtful = |chance: &Chance| chance.good < short::BEYOND_DOUBT;
        if !short.decision.chances.iter().flatten().any(doubtful) {
            return Some(short);
        }
        let (cost, _) = both.cost(priors)?;
        let how = (last, true);
        Some(short::weigh(&both.group, cost, known, priors, kinds, how))
    }

    /// What all that says.
    pub fn decide(&mut self, priors: &Priors) -> Decision {
        let mut decision = Decision {
            chances: vec![None; self.items],
            misfit: 1.0,
        };
        for block in &mut self.blocks {
            if let Some((cost, _)) = block.cost(priors) {
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
    fn forget(&mut self, keep: f64) {
        self.gram.scale(keep);
        for value in &mut self.right {
            *value *= keep;
        }
        self.square *= keep;
        self.readings *= keep;
    }

    fn take(&mut self, other: &Self) {
        self.gram.add(&other.gram);
        add_scaled(&mut self.right, &other.right, 1.0);
        self.square += other.square;
        self.readings += other.readings;
    }

    /// An upper bound of what is known of any item.
    fn most_weight(&self) -> f64 {
        let of = |at: usize| {
            let mut weight = self.gram.row(at)[at];
            for &sensor in &self.group.seen_by[at] {
                let offset = self.group.gain_of(sensor) + 1;
                let row = self.gram.row(offset);
                weight -= row[at].powi(2) / (row[offset] + self.group.stiffness[offset]);
            }
            weight
        };
        (0..self.group.items.len()).map(of).fold(0.0, f64::max)
    }

    fn cost(&self, priors: &Priors) -> Option<(Cost, Square)> {
        let mut all = self.gram.clone();
        for (at, stiffness) in self.group.stiffness.iter().enumerate() {
            all.row_mut(at)[at] += stiffness;
        }
        let covariance = all.inverse()?;
        let mean = covariance.times(&self.right);
        let explained: f64 = mean.iter().zip(&self.right).map(|(a, b)| a * b).sum();
        let rest = (self.square - explained, self.readings);
        let cost = Cost::new(&self.group, &covariance, &mean, rest, priors);
        Some((cost, covariance))
    }

    /// Marginalises one unknown with this inverse variance, and leaves nothing of it.
    fn reckon_out(&mut self, unknown: usize, stiffness: f64) {
        let row = self.gram.row(unknown).to_vec();
        let whole = row[unknown] + stiffness;
        if row[unknown] <= 0.0 {
            return;
        }
        let right = self.right[unknown];
        for at in 0..row.len() {
            if at == unknown || row[at] == 0.0 {
                continue;
            }
            let factor = row[at] / whole;
            add_scaled(self.gram.row_mut(at), &row, -factor);
            self.right[at] -= factor * right;
            self.gram.row_mut(at)[unknown] = 0.0;
        }
        self.gram.row_mut(unknown).fill(0.0);
        self.right[unknown] = 0.0;
        self.square = (self.square - right * right / whole).max(0.0);
    }
}
