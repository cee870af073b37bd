//! A sensor's window with all that is uncertain of a good floor taken into account: how well anything
//! that began at some moment of it would explain what was read.
//!
//! Readings r are Gaussian with covariance Σ = V + X·P·Xᵀ: V their noise, X·P·Xᵀ what is uncertain of
//! items, gain and offset. Something that adds s to them from a moment on has the log likelihood ratio
//! x·a − ½·x²·b for its size x, with a = sᵀΣ⁻¹r and b = sᵀΣ⁻¹s (the matched filter of the textbooks; Willsky and
//! Jones 1976 for jumps in what a Kalman filter follows). With Woodbury's identity both are sums over readings
//! that grow from the last one backwards, so that all moments cost no more than one.

use super::line::Known;
use crate::health::infer::matrix::{add_scaled, dot};
use crate::units::{Time, count};

/// One window, looked at.
#[derive(Debug, Clone)]
pub(super) struct Looked {
    pub(super) times: Vec<Time>,
    /// What each reading depends on.
    rows: Vec<Vec<f64>>,
    /// The covariance after the window times each of these, and both together.
    spreads: Vec<Vec<f64>>,
    weights: Vec<f64>,
    own: Vec<f64>,
    /// What is left of each reading when all uncertain things are as they are likeliest.
    pub(super) left_a: Vec<f64>,
}

impl Looked {
    /// `readings`: when, what each depends on, by how much it is above what was expected, its variance.
    pub(super) fn new(known: &Known, readings: Vec<(Time, Vec<f64>, f64, f64)>) -> Self {
        let mut after = known.clone();
        // Whatever wanders has done so before the window: P is one and the same for all of it.
        if let Some((last, ..)) = readings.last() {
            after.age(*last);
        }
        for (_, row, above_a, variance) in &readings {
            after.learn(row, *above_a, *variance, false);
        }
        let mut looked = Self {
            times: Vec::with_capacity(readings.len()),
            rows: Vec::with_capacity(readings.len()),
            spreads: Vec::with_capacity(readings.len()),
            weights: Vec::with_capacity(readings.len()),
            own: Vec::with_capacity(readings.len()),
            left_a: Vec::with_capacity(readings.len()),
        };
        for (at, row, above_a, variance) in readings {
            let spread = after.covariance.times(&row);
            looked.times.push(at);
            looked.weights.push(1.0 / variance);
            looked.own.push(dot(&row, &spread));
            looked.left_a.push(above_a - dot(&row, &after.mean));
            looked.spreads.push(spread);
            looked.rows.push(row);
        }
        looked
    }

    pub(super) fn len(&self) -> usize {
        self.times.len()
    }

    fn unknowns(&self) -> usize {
        self.rows.first().map_or(0, Vec::len)
    }

    /// a of `s`, were it to begin with each reading, by what is left.
    pub(super) fn a(&self, s: &[f64], left_a: &[f64]) -> Vec<f64> {
        let mut all = vec![0.0; s.len()];
        let mut sum = 0.0;
        for at in (0..s.len()).rev() {
            sum += s[at] * left_a[at] * self.weights[at];
            all[at] = sum;
        }
        all
    }

    /// The largest a − b/2 of `s`, with b this part of what it would be if nothing were uncertain.
    pub(super) fn most(&self, s: &[f64], left_a: &[f64], part: f64) -> f64 {
        let (mut sum, mut most) = (0.0, 0.0_f64);
        for (at, s) in s.iter().enumerate().rev() {
            sum += (s * left_a[at] - part * s * s / 2.0) * self.weights[at];
            most = most.max(sum);
        }
        most
    }

    /// The same of what holds the value it had in the beginning.
    pub(super) fn most_of_held(&self, value: &[f64], left_a: &[f64], part: f64) -> f64 {
        let (mut left, mut with, mut one, mut first, mut square) = (0.0, 0.0, 0.0, 0.0, 0.0);
        let mut most = 0.0_f64;
        for (at, y) in value.iter().enumerate().rev() {
            let weight = self.weights[at];
            left += left_a[at] * weight;
            with += y * left_a[at] * weight;
            one += weight;
            first += y * weight;
            square += y * y * weight;
            let b = y * y * one - 2.0 * y * first + square;
            most = most.max(y * left - with - part * b / 2.0);
        }
        most
    }

    /// b of `s` with `t`, were both to begin with each reading.
    pub(super) fn b(&self, s: &[f64], t: &[f64]) -> Vec<f64> {
        let same = std::ptr::eq(s, t);
        let mut all = vec![0.0; s.len()];
        let (mut of_s, mut of_t) = (vec![0.0; self.unknowns()], vec![0.0; self.unknowns()]);
        let mut sum = 0.0;
        for at in (0..s.len()).rev() {
            let weight = self.weights[at];
            let (p, q) = (s[at] * weight, t[at] * weight);
            // Where nothing is lit nothing changes.
            if p != 0.0 || q != 0.0 {
                let with_s = dot(&self.rows[at], &of_s);
                let with_t = if same {
                    with_s
                } else {
                    dot(&self.rows[at], &of_t)
                };
                sum += s[at] * q - q * with_s - p * with_t - p * q * self.own[at];
                add_scaled(&mut of_s, &self.spreads[at], p);
                if !same {
                    add_scaled(&mut of_t, &self.spreads[at], q);
                }
            }
            all[at] = sum;
        }
        all
    }

    /// What is left once `s` from reading `begin` on is taken for true.
    pub(super) fn without(&self, s: &[f64], begin: usize, left_a: &[f64]) -> Vec<f64> {
        let mut of_s = vec![0.0; self.unknowns()];
        for (at, s) in s.iter().enumerate().skip(begin) {
            add_scaled(&mut of_s, &self.spreads[at], s * self.weights[at]);
        }
        let mut left_a = left_a.to_vec();
        for (at, left_a) in left_a.iter_mut().enumerate() {
            *left_a += dot(&self.rows[at], &of_s) - if at >= begin { s[at] } else { 0.0 };
        }
        left_a
    }

    /// Mean square of what is left against what noise explains, of the whole window or since something
    /// happened, whichever is worse: about 1. Beyond that it is in units of what chance allows: 2 is
    /// three and a half standard deviations of such a mean too much.
    pub(super) fn misfit(&self, left_a: &[f64], since: Option<Time>) -> f64 {
        let from = |begin: usize| {
            let each = left_a[begin..].iter().zip(&self.weights[begin..]);
            let sum: f64 = each.map(|(left_a, weight)| left_a * left_a * weight).sum();
            let readings = count(left_a.len() - begin);
            // The variance of a sum of n squares of standard normal deviates is 2n.
            1.0 + (sum / readings - 1.0) / (3.5 * (2.0 / readings).sqrt())
        };
        let begin = self
            .times
            .partition_point(|time| since.is_some_and(|since| *time < since));
        let since = if begin < left_a.len() {
            from(begin)
        } else {
            0.0
        };
        from(0).max(since)
    }
}
