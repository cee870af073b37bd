//! The same evidence as a covariance that every reading sharpens: no matrix is ever inverted, so that
//! one may decide after each reading. It can't forget, but a sensor's offset may wander.

use super::cost::Cost;
use super::groups::{Group, Place, groups, place_of};
use super::matrix::{Square, add_scaled};
use super::{Decision, Layout, Priors, chances};

/// What is known of each unknown after all that was read, were every item good. A reading and a
/// decision cost the square of the number of items that have to be looked at together.
#[derive(Debug, Clone)]
pub struct Running {
    items: usize,
    beliefs: Vec<Belief>,
    places: Vec<Option<Place>>,
    row: Vec<(usize, f64)>,
}

#[derive(Debug, Clone)]
struct Belief {
    group: Group,
    covariance: Square,
    mean: Vec<f64>,
    square: f64,
    readings: f64,
    last: Vec<f64>,
}

impl Running {
    /// Nothing is read yet.
    pub fn new(layout: &Layout) -> Self {
        let (groups, places) = groups(layout);
        let beliefs = groups.into_iter().map(|group| {
            let variances: Vec<f64> = group.stiffness.iter().map(|value| 1.0 / value).collect();
            Belief {
                covariance: Square::diagonal(&variances),
                mean: vec![0.0; group.unknowns()],
                square: 0.0,
                readings: 0.0,
                last: vec![0.0; group.items.len()],
                group,
            }
        });
        Self {
            items: layout.full_a.len(),
            beliefs: beliefs.collect(),
            places,
            row: Vec::new(),
        }
    }

    /// As [`Evidence::add`](super::Evidence::add).
    pub fn add(&mut self, sensor: usize, computed_a: &[f64], reading_a: f64, variance: f64) {
        let Some(place) = place_of(&self.places, sensor, reading_a, variance) else {
            return;
        };
        let belief = &mut self.beliefs[place.group];
        let less = belief.group.row(place.sensor, computed_a, &mut self.row) - reading_a;
        let mut spread = vec![0.0; belief.mean.len()];
        for &(unknown, factor) in &self.row {
            add_scaled(&mut spread, belief.covariance.row(unknown), factor);
        }
        let (mut expected, mut surely) = (0.0, variance);
        for &(unknown, factor) in &self.row {
            expected += factor * belief.mean[unknown];
            surely += factor * spread[unknown];
        }
        let surprise = less - expected;
        add_scaled(&mut belief.mean, &spread, surprise / surely);
        for at in 0..spread.len() {
            add_scaled(belief.covariance.row_mut(at), &spread, -spread[at] / surely);
        }
        belief.square += surprise * surprise / surely;
        belief.readings += 1.0;
    }

    /// A sensor's offset may have wandered by so much since its last reading.
    pub fn wander(&mut self, sensor: usize, variance: f64) {
        if let Some(Some(place)) = self.places.get(sensor).copied() {
            let belief = &mut self.beliefs[place.group];
            let offset = belief.group.gain_of(place.sensor) + 1;
            belief.covariance.row_mut(offset)[offset] += variance;
        }
    }

    /// Of each item, the inverse variance of its lack, were the lacks of all others known.
    pub fn weights(&self) -> Vec<f64> {
        let mut weights = vec![0.0; self.items];
        for belief in &self.beliefs {
            for (place, &item) in belief.group.items.iter().enumerate() {
                let stiff = belief.group.stiffness[place];
                weights[item] = stiff - stiff * stiff * belief.covariance.row(place)[place];
            }
        }
        weights
    }

    /// What all that says. Unless `thorough`, the search goes on from where the last one ended, and
    /// from nowhere else.
    pub fn decide(&mut self, priors: &Priors, thorough: bool) -> Decision {
        let mut decision = Decision {
            chances: vec![None; self.items],
            misfit: 1.0,
        };
        for belief in &mut self.beliefs {
            let rest = (belief.square, belief.readings);
            let cost = Cost::new(
                &belief.group,
                &belief.covariance,
                &belief.mean,
                rest,
                priors,
            );
            chances::decide(
                &belief.group,
                cost,
                priors,
                &mut belief.last,
                thorough,
                &mut decision,
            );
        }
        decision
    }
}
