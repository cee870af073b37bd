//! How well everything that may have happened explains the windows of some sensors.

use std::borrow::Cow;
use std::collections::BTreeMap;

use super::looked::Looked;
use super::whats::{Candidate, Size, What};
use crate::units::Time;

/// What explains so much worse than nothing, as a logarithm, is not worth keeping; nor is a moment that is by so
/// much worse than another.
pub(super) const HARDLY: f64 = -9.0;
const NOTHING: f64 = 30.0;

/// a and b of something, for each reading that it may have begun with.
struct Fit<'a> {
    a: Vec<f64>,
    b: Cow<'a, [f64]>,
}

/// What something does to the readings of one sensor.
#[derive(Debug, Clone)]
pub(super) enum Shape {
    /// Adds this from its beginning on.
    Plain(Vec<f64>),
    /// Adds what this was in the beginning and takes away what it is.
    Held(Vec<f64>),
}

impl Shape {
    /// What it adds to each reading if it began with this one.
    fn from(&self, begin: usize) -> Vec<f64> {
        match self {
            Self::Plain(adds) => adds.clone(),
            Self::Held(value) => {
                let first = value.get(begin).copied().unwrap_or(0.0);
                value.iter().map(|value| first - value).collect()
            }
        }
    }
}

/// What depends on a shape and not on what is left of the readings.
#[derive(Debug, Clone)]
struct Part {
    sensor: usize,
    shape: Shape,
    /// b of the shape; of one that is held also with 1, and of 1 itself.
    b: Vec<f64>,
    with_one: Vec<f64>,
    of_one: Vec<f64>,
}

impl Part {
    fn new(sensor: usize, shape: Shape, looked: &Looked) -> Self {
        let (b, with_one, of_one) = match &shape {
            Shape::Plain(adds) => (looked.b(adds, adds), Vec::new(), Vec::new()),
            Shape::Held(value) => {
                let one = vec![1.0; value.len()];
                (
                    looked.b(value, value),
                    looked.b(&one, value),
                    looked.b(&one, &one),
                )
            }
        };
        Self {
            sensor,
            shape,
            b,
            with_one,
            of_one,
        }
    }

    fn fit(&self, looked: &Looked, left_a: &[f64]) -> Fit<'_> {
        match &self.shape {
            Shape::Plain(adds) => Fit {
                a: looked.a(adds, left_a),
                b: Cow::Borrowed(&self.b),
            },
            Shape::Held(value) => {
                let one = looked.a(&vec![1.0; value.len()], left_a);
                let of_value = looked.a(value, left_a);
                let each = value.iter().enumerate();
                let (a, b): (Vec<f64>, Vec<f64>) = each
                    .map(|(at, value)| {
                        let a = value * one[at] - of_value[at];
                        let b = value * value * self.of_one[at] - 2.0 * value * self.with_one[at]
                            + self.b[at];
                        (a, b)
                    })
                    .unzip();
                Fit {
                    a,
                    b: Cow::Owned(b),
                }
            }
        }
    }
}

/// Something that may have happened, with all that its score needs.
#[derive(Debug, Clone)]
pub(super) struct Possible {
    pub(super) what: What,
    rate: f64,
    size: Size,
    parts: Vec<Part>,
}

/// Something that is taken to have happened.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Act {
    pub(super) what: What,
    /// The first reading that knows of it.
    pub(super) at: Time,
    pub(super) size: f64,
}

/// How well something explains what is left.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Score {
    pub(super) act: Act,
    /// Logarithm of how probable it is against nothing, over all moments.
    pub(super) weight: f64,
}

/// What is left of each sensor's readings.
pub(super) type Left = BTreeMap<usize, Vec<f64>>;

impl Possible {
    pub(super) fn new(
        what: What,
        shapes: Vec<(usize, Shape)>,
        most_a: f64,
        candidates: &[Candidate],
        looked: &BTreeMap<usize, Looked>,
    ) -> Self {
        let parts = shapes
            .into_iter()
            .filter_map(|(sensor, shape)| Some(Part::new(sensor, shape, looked.get(&sensor)?)));
        Self {
            what,
            rate: what.rate(candidates),
            size: what.size(most_a),
            parts: parts.collect(),
        }
    }

    /// Of what opens: the same if only a share of it stops.
    pub(super) fn weak(&self, candidates: &[Candidate]) -> Self {
        let what = match self.what {
            What::Open(at) => What::Weak(at),
            other => other,
        };
        Self {
            what,
            rate: what.rate(candidates),
            size: what.size(0.0),
            parts: self.parts.clone(),
        }
    }

    /// How well it explains what is left, from a moment of those that `may` be; nothing if it is not more
    /// than `least`.
    pub(super) fn score(
        &self,
        looked: &BTreeMap<usize, Looked>,
        left: &Left,
        may: impl Fn(Time) -> bool,
        least: f64,
    ) -> Option<Score> {
        let fits: Vec<(&[Time], Fit<'_>)> = self
            .parts
            .iter()
            .map(|part| {
                let of = &looked[&part.sensor];
                (&of.times[..], part.fit(of, &left[&part.sensor]))
            })
            .collect();
        let several: Vec<Time>;
        let moments = if let [(times, _)] = fits[..] {
            times
        } else {
            let all = fits.iter().flat_map(|(times, _)| times.iter().copied());
            several = all
                .collect::<std::collections::BTreeSet<Time>>()
                .into_iter()
                .collect();
            &several
        };
        let rate = self.rate.ln();
        let (mut best, mut best_weight) = (None, least);
        let mut weights = Vec::new();
        let mut last: Option<Time> = None;
        let (mut gap_us, mut gap) = (0, 0.0);
        for (number, &moment) in moments.iter().enumerate() {
            // It happened between the reading before and this one; before the first, some time.
            let us = last.map_or(1_000_000, |last| {
                moment.us_since(last).clamp(1_000, 1_000_000)
            });
            last = Some(moment);
            if us != gap_us {
                (gap_us, gap) = (us, Time(us).s_since(Time(0)).ln());
            }
            if !may(moment) {
                continue;
            }
            let (mut a, mut b) = (0.0, 0.0);
            for (times, fit) in &fits {
                let at = if fits.len() == 1 {
                    number
                } else {
                    times.partition_point(|time| *time < moment)
                };
                if at < times.len() {
                    a += fit.a[at];
                    b += fit.b[at];
                }
            }
            let b = b.max(0.0);
            if self.size.at_most(a, b) + rate + gap < best_weight - NOTHING {
                continue;
            }
            let (score, size) = self.size.score(a, b);
            let weight = score + rate + gap;
            weights.push(weight);
            if weight > best_weight {
                best_weight = weight;
                best = Some(Act {
                    what: self.what,
                    at: moment,
                    size,
                });
            }
        }
        Some(Score {
            act: best?,
            weight: log_sum(&weights),
        })
    }

    /// How well it explains what is left from this moment on, in this size.
    pub(super) fn weigh(&self, act: Act, looked: &BTreeMap<usize, Looked>, left: &Left) -> f64 {
        let (mut a, mut b) = (0.0, 0.0);
        for part in &self.parts {
            let of = &looked[&part.sensor];
            let at = of.times.partition_point(|time| *time < act.at);
            if at < of.len() {
                let fit = part.fit(of, &left[&part.sensor]);
                a += fit.a[at];
                b += fit.b[at];
            }
        }
        // A tenth of a second passes from reading to reading.
        self.size.score_of(act.size, a, b.max(0.0)) + (self.rate * 0.1).ln()
    }

    /// What is left once it is taken for true.
    pub(super) fn without(&self, act: Act, looked: &BTreeMap<usize, Looked>, left: &Left) -> Left {
        let mut left = left.clone();
        for part in &self.parts {
            let of = &looked[&part.sensor];
            let begin = of.times.partition_point(|time| *time < act.at);
            if begin == of.len() {
                continue;
            }
            let mut adds = part.shape.from(begin);
            for add in &mut adds {
                *add *= act.size;
            }
            let new = of.without(&adds, begin, &left[&part.sensor]);
            left.insert(part.sensor, new);
        }
        left
    }
}

/// Logarithm of the sum of what these are logarithms of.
pub(in crate::health::show) fn log_sum(logs: &[f64]) -> f64 {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if !most.is_finite() {
        return most;
    }
    most + logs.iter().map(|log| (log - most).exp()).sum::<f64>().ln()
}
