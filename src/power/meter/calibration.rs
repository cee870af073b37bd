//! Learns from a run of known light what a place really draws: measured = idle + Σ gain × computed,
//! over its colours, by least squares.

use super::{COLOURS, Computed};

/// One step of a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// What the model says.
    pub computed: Computed,
    /// What the sensor said, in amperes.
    pub measured_a: f64,
}

/// What a place really draws.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// With all dark, in amperes.
    pub idle_a: f64,
    /// Real over computed current of each colour; nothing for one that the place does not have.
    pub gains: [Option<f64>; COLOURS],
    /// The farthest that any step of the run lay from this, in amperes.
    pub residual_a: f64,
    /// The farthest that any lay above it, in amperes.
    pub above_a: f64,
}

/// Gains beyond these are no pixels: the sensor sits elsewhere, or counts in another unit.
const GAINS: std::ops::RangeInclusive<f64> = 0.4..=2.0;

/// A colour that never drew more than so many amperes is not there.
const PRESENT_A: f64 = 1e-3;

/// Why a run taught nothing.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Unfit {
    /// The sensor was silent, frozen or absurd at some step.
    #[error("it was {0} during the run")]
    Untrusted(&'static str),
    /// It reports too seldom.
    #[error("it reports too seldom: a run waits {0} s for a reading")]
    TooSeldom(u32),
    /// There is no light at its place, or the steps don't tell its colours apart.
    #[error("the steps of the run don't tell its colours apart")]
    Undetermined,
    /// It did not follow the light.
    #[error(
        "it rose by {rose_a:.2} A while the computed current rose by {computed_a:.2} A: does it sit \
         where the file says?"
    )]
    DoesNotFollow {
        /// By how much it rose.
        rose_a: f64,
        /// By how much it should have.
        computed_a: f64,
    },
    /// A gain is out of bounds.
    #[error(
        "one colour draws {0:.2} times what is computed: look at `full_ma`, and at where the sensor \
         sits"
    )]
    Gain(f64),
    /// Even dark the measured current is absurd.
    #[error("dark it measures {0:.2} A: is its zero right?")]
    Idle(f64),
    /// It lies too far beside any fit.
    #[error(
        "a step lies {residual_a:.2} A beside the best fit, more than its tolerance of {allowed_a:.2} \
         A: did something else switch meanwhile?"
    )]
    Residual {
        /// How far.
        residual_a: f64,
        /// How far it may.
        allowed_a: f64,
    },
}

impl Fit {
    /// What the sensor should say, in amperes. A colour that the run did not have counts as it is
    /// computed, or as the worst of the others.
    pub fn expected_a(&self, computed: &Computed) -> f64 {
        let most = self.most_gain();
        let lit = computed.colours_a.iter().zip(self.gains);
        self.idle_a + lit.map(|(a, gain)| a * gain.unwrap_or(most)).sum::<f64>()
    }

    /// The largest gain, at least 1 where a colour is unknown.
    pub fn most_gain(&self) -> f64 {
        let known = self.gains.iter().flatten().copied();
        let all_known = self.gains.iter().all(Option::is_some);
        known.fold(if all_known { 0.0 } else { 1.0 }, f64::max)
    }

    /// The computed current, idle included, that keeps the real one within `limit_a` whatever the
    /// colours, at a place that is computed to draw `idle_a` when dark.
    pub fn computed_limit_a(&self, limit_a: f64, idle_a: f64) -> f64 {
        idle_a + (limit_a - self.idle_a - self.above_a) / self.most_gain().max(1e-6)
    }
}

/// Finds the idle current and the gains.
///
/// `tolerance` is how far a step may lie beside the fit, as a share of the most that was measured;
/// `noise_a` comes on top.
///
/// # Errors
/// Says why the run teaches nothing.
pub fn fit(samples: &[Sample], tolerance: f64, noise_a: f64) -> Result<Fit, Unfit> {
    let most_of = |at: usize| {
        let of = samples.iter().map(|sample| sample.computed.colours_a[at]);
        of.fold(0.0, f64::max)
    };
    let present: Vec<usize> = (0..COLOURS).filter(|&at| most_of(at) > PRESENT_A).collect();
    let range = |of: &dyn Fn(&Sample) -> f64| {
        let (low, high) = samples
            .iter()
            .map(of)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), a| {
                (low.min(a), high.max(a))
            });
        high - low
    };
    let computed_a = range(&|sample| sample.computed.total_a());
    let rose_a = range(&|sample| sample.measured_a);
    if present.is_empty() || samples.len() <= present.len() {
        return Err(Unfit::Undetermined);
    }
    if rose_a < 0.25 * computed_a - noise_a || !rose_a.is_finite() {
        return Err(Unfit::DoesNotFollow { rose_a, computed_a });
    }
    let columns: Vec<Vec<f64>> = std::iter::once(vec![1.0; samples.len()])
        .chain(present.iter().map(|&at| {
            let of = samples.iter().map(|sample| sample.computed.colours_a[at]);
            of.collect()
        }))
        .collect();
    let measured: Vec<f64> = samples.iter().map(|sample| sample.measured_a).collect();
    let found = least_squares(columns, measured).ok_or(Unfit::Undetermined)?;
    let mut fit = Fit {
        idle_a: found[0],
        gains: [None; COLOURS],
        residual_a: 0.0,
        above_a: 0.0,
    };
    for (&at, &gain) in present.iter().zip(&found[1..]) {
        if !GAINS.contains(&gain) {
            return Err(Unfit::Gain(gain));
        }
        fit.gains[at] = Some(gain);
    }
    let most_a = samples.iter().map(|s| s.measured_a).fold(0.0, f64::max);
    let allowed_a = tolerance * most_a + noise_a;
    if fit.idle_a < -allowed_a {
        return Err(Unfit::Idle(fit.idle_a));
    }
    for sample in samples {
        let beside = sample.measured_a - fit.expected_a(&sample.computed);
        fit.residual_a = fit.residual_a.max(beside.abs());
        fit.above_a = fit.above_a.max(beside);
    }
    if fit.residual_a > allowed_a {
        let residual_a = fit.residual_a;
        return Err(Unfit::Residual {
            residual_a,
            allowed_a,
        });
    }
    Ok(fit)
}

/// The coefficients of `columns` that come nearest to `target`, by Gram and Schmidt's way done
/// twice, which is as sound as Householder's for so few columns. Nothing if a column follows from
/// the others.
fn least_squares(columns: Vec<Vec<f64>>, target: Vec<f64>) -> Option<Vec<f64>> {
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let size = columns.len();
    let mut upper = vec![vec![0.0; size]; size];
    let mut base: Vec<Vec<f64>> = Vec::new();
    for (at, mut column) in columns.into_iter().enumerate() {
        let length = dot(&column, &column).sqrt();
        for _ in 0..2 {
            for (row, unit) in base.iter().enumerate() {
                let along = dot(unit, &column);
                upper[row][at] += along;
                for (value, unit) in column.iter_mut().zip(unit) {
                    *value -= along * unit;
                }
            }
        }
        let left = dot(&column, &column).sqrt();
        if left.is_nan() || left <= 1e-6 * length {
            return None;
        }
        upper[at][at] = left;
        base.push(column.iter().map(|value| value / left).collect());
    }
    let mut target = target;
    let mut right = Vec::new();
    for unit in &base {
        let along = dot(unit, &target);
        for (value, unit) in target.iter_mut().zip(unit) {
            *value -= along * unit;
        }
        right.push(along);
    }
    let mut found = vec![0.0; size];
    for row in (0..size).rev() {
        let known: f64 = (row + 1..size).map(|at| upper[row][at] * found[at]).sum();
        found[row] = (right[row] - known) / upper[row][row];
    }
    Some(found)
}
