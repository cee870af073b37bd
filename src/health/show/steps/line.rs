//! One sensor: its last readings beside what was expected, and what is known of everything that makes
//! them differ a little though nothing is broken.

use std::collections::VecDeque;

use crate::health::infer::matrix::{Square, add_scaled, dot};
use crate::health::show::baseline::{ItemBase, SensorBase};
use crate::units::Time;

/// A reading that surprises by more than so many standard deviations teaches no more than one that
/// surprises by so many: what drops out for a moment is not how a floor is.
const CLIP: f64 = 3.0;
/// Nobody knows what was learnt so long ago any more: shares, gains and offsets change with warmth.
const STALE_S: f64 = 3_600.0;

/// One reading.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sample {
    pub(super) at: Time,
    /// What was drawn, by this reading.
    pub(super) drawn_a: f64,
    pub(super) variance: f64,
    /// What each item that the sensor sees was expected to draw.
    pub(super) expected_a: Vec<f64>,
    /// What it tells of is known and over: it is left out of everything.
    pub(super) over: bool,
}

/// What makes a good sensor of good items differ from what was expected: by how much each item does (as a
/// share), the sensor's gain, its offset. Gaussian, followed reading by reading (Kalman 1960).
#[derive(Debug, Clone, Default)]
pub(super) struct Known {
    pub(super) mean: Vec<f64>,
    pub(super) covariance: Square,
    /// By how much the variance of each grows in a second.
    wander: Vec<f64>,
    at: Option<Time>,
}

impl Known {
    pub(super) fn new<'a>(
        items: impl Iterator<Item = &'a ItemBase>,
        sensor: &SensorBase,
        drift_a: f64,
    ) -> Self {
        let square = |sd: f64| sd.max(1e-6).powi(2);
        let mut variances: Vec<f64> = items.map(|item| square(item.sd)).collect();
        variances.push(square(sensor.gain_sd));
        variances.push(square(sensor.offset_sd_a));
        let mut wander: Vec<f64> = variances.iter().map(|one| one / STALE_S).collect();
        if let Some(offset) = wander.last_mut() {
            *offset += drift_a * drift_a;
        }
        Self {
            mean: vec![0.0; variances.len()],
            covariance: Square::diagonal(&variances),
            wander,
            at: None,
        }
    }

    /// What a reading depends on: by items, then gain, then offset.
    pub(super) fn row(expected_a: &[f64]) -> Vec<f64> {
        let mut row = Vec::with_capacity(expected_a.len() + 2);
        row.extend_from_slice(expected_a);
        row.push(expected_a.iter().sum());
        row.push(1.0);
        row
    }

    /// What a reading that was so much above what was expected is above what is known, and the variance
    /// of what is known.
    pub(super) fn surprise(&self, row: &[f64], above_a: f64) -> (f64, f64) {
        let spread = self.covariance.times(row);
        (above_a - dot(row, &self.mean), dot(row, &spread).max(0.0))
    }

    /// Time has passed until `at`.
    pub(super) fn age(&mut self, at: Time) {
        let s = self.at.map_or(0.0, |last| at.s_since(last));
        for (unknown, wander) in self.wander.iter().enumerate() {
            self.covariance.row_mut(unknown)[unknown] += wander * s;
        }
        self.at = Some(at);
    }

    /// Takes in a reading. With `clip` it teaches no more than one that is believable.
    pub(super) fn learn(&mut self, row: &[f64], above_a: f64, variance: f64, clip: bool) {
        let spread = self.covariance.times(row);
        let surely = variance + dot(row, &spread).max(0.0);
        let mut surprise = above_a - dot(row, &self.mean);
        if clip {
            let most = CLIP * surely.sqrt();
            surprise = surprise.clamp(-most, most);
        }
        add_scaled(&mut self.mean, &spread, surprise / surely);
        for (unknown, of) in spread.iter().enumerate() {
            add_scaled(self.covariance.row_mut(unknown), &spread, -of / surely);
        }
    }

    /// Its offset is another by this much from now on, or its gain.
    pub(super) fn shift(&mut self, gain: f64, offset_a: f64) {
        let count = self.mean.len();
        self.mean[count - 2] += gain;
        self.mean[count - 1] += offset_a;
        let row = self.covariance.row_mut(count - 2);
        row[count - 2] += (gain / 4.0).powi(2);
        let row = self.covariance.row_mut(count - 1);
        row[count - 1] += (offset_a / 4.0).powi(2);
    }
}

/// A sensor as it is followed.
#[derive(Debug, Clone)]
pub(super) struct Line {
    /// The items that it sees.
    pub(super) sees: Vec<u32>,
    /// As it was before the window.
    pub(super) known: Known,
    pub(super) window: VecDeque<Sample>,
    /// While something is being looked into, nothing of the window is learnt.
    pub(super) pending: bool,
    /// When it was last found to read what a sound floor does; and when it was looked at for long enough.
    pub(super) sound: Option<Time>,
    pub(super) looked: Option<Time>,
}

impl Line {
    /// Nothing is known of one that sees these.
    pub(super) fn nothing(sees: Vec<u32>) -> Self {
        Self {
            sees,
            known: Known::default(),
            window: VecDeque::new(),
            pending: false,
            sound: None,
            looked: None,
        }
    }

    pub(super) fn newest(&self) -> Option<Time> {
        self.window.back().map(|sample| sample.at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn known(items: usize) -> Known {
        let item = ItemBase {
            share: 1.0,
            sd: 0.03,
        };
        let sensor = SensorBase {
            gain: 1.0,
            gain_sd: 0.01,
            offset_a: 0.0,
            offset_sd_a: 0.2,
            late_s: 0.0,
            late_sd_s: 0.0,
            excess: 1.0,
        };
        Known::new(vec![item; items].iter(), &sensor, 0.0)
    }

    /// The mean of n readings of one offset with a Gaussian prior: textbook.
    #[test]
    fn an_offset_is_learnt_as_textbooks_say() {
        let mut known = known(1);
        for _ in 0..10 {
            known.learn(&Known::row(&[0.0]), 0.1, 0.04, true);
        }
        let weight = 10.0 / 0.04 / (10.0 / 0.04 + 1.0 / 0.04);
        assert!((known.mean[2] - weight * 0.1).abs() < 1e-12);
        let (surprise, variance) = known.surprise(&Known::row(&[0.0]), 0.3);
        assert!((surprise - (0.3 - weight * 0.1)).abs() < 1e-12);
        assert!((variance - 1.0 / (11.0 / 0.04)).abs() < 1e-12);
    }

    #[test]
    fn what_is_not_believable_teaches_no_more_than_what_is() {
        let (mut far, mut near) = (known(1), known(1));
        let row = Known::row(&[0.5]);
        let (_, spread) = far.surprise(&row, 0.0);
        far.learn(&row, 50.0, 0.01, true);
        near.learn(&row, 3.0 * (0.01 + spread).sqrt(), 0.01, false);
        assert_eq!(far.mean, near.mean);
    }
}
