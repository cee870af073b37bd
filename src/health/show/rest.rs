//! What is left of readings when everything that is known has been taken out, and how long it stays the
//! same way.
//!
//! Noise changes from reading to reading; what a model does not know of (cables that warm up, light that
//! leaves a little later than is said) stays for a while, and a hundred readings of it say no more than one.
//! Its sum over some seconds grows faster than that of noise: by so much less every reading counts.

use super::align::SKEW_S;
use super::baseline::{LATE_KNOWN_S, SensorBase};

/// Readings that are summed.
const BLOCK: u32 = 30;
/// So many are remembered.
const MEMORY: f64 = 50.0;
/// No block counts for more: what is really missing is for the search.
const MOST_BLOCK: f64 = 25.0;
/// What is known of them beforehand counts as so many.
const KNOWN: f64 = 10.0;
/// While something may have opened no block counts for more than this.
const IN_DOUBT: f64 = 4.0;
/// Nor are readings ever made to count less than by this.
const MOST: f64 = 8.0;

/// A time is corrected when what is lit has changed so much, in deviations, squared and summed.
const SHARP: f64 = 1_000.0;
/// By this share of what it seems to be off.
const CORRECT: f64 = 0.7;
/// Readings are never taken to be of so much another time, nor corrected by more at once.
const MOST_S: (f64, f64) = (-0.05, 0.3);
const MOST_STEP_S: f64 = 0.05;
/// After so many corrections it is known.
const TIMES: u32 = 3;

/// How much earlier than it is said a sensor's readings are of, learnt from what is left of them while
/// what is lit changes.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Late {
    both: f64,
    squares: f64,
    times: u32,
}

impl Late {
    /// What is left of a reading, and by how much what is lit changes within the skew, both in deviations.
    pub(super) fn hear(&mut self, left: f64, skewed: f64, base: &mut SensorBase) {
        self.both += left * skewed;
        self.squares += skewed * skewed;
        if self.squares >= SHARP {
            let off_s = CORRECT * SKEW_S * self.both / self.squares;
            base.late_s += off_s.clamp(-MOST_STEP_S, MOST_STEP_S);
            base.late_s = base.late_s.clamp(MOST_S.0, MOST_S.1);
            self.times += 1;
            if self.times == TIMES {
                base.late_sd_s = LATE_KNOWN_S;
            }
            (self.both, self.squares) = (0.0, 0.0);
        }
    }
}

/// Of one sensor.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rest {
    sum: f64,
    readings: u32,
    /// Mean square of sums, against that of noise.
    excess: f64,
    /// Of so many blocks.
    blocks: f64,
}

impl Rest {
    /// What is known of a sensor: [`SensorBase::excess`].
    pub(super) const fn new(excess: f64) -> Self {
        Self {
            sum: 0.0,
            readings: 0,
            excess,
            blocks: KNOWN,
        }
    }

    /// Another reading, and what is left of it in standard deviations. While it is in doubt whether something
    /// opened, that must not make all readings count for nothing.
    pub(super) fn hear(&mut self, left: f64, in_doubt: bool) {
        self.sum += left;
        self.readings += 1;
        if self.readings == BLOCK {
            let block = (self.sum * self.sum / f64::from(BLOCK)).min(MOST_BLOCK);
            let block = if in_doubt { block.min(IN_DOUBT) } else { block };
            self.blocks = (self.blocks + 1.0).min(MEMORY);
            self.excess += (block - self.excess) / self.blocks;
            (self.sum, self.readings) = (0.0, 0);
        }
    }

    /// Nothing is known of what belongs together any more.
    pub(super) fn pause(&mut self) {
        (self.sum, self.readings) = (0.0, 0);
    }

    /// By how much the variance of a reading is made greater.
    pub(super) fn factor(&self) -> f64 {
        self.excess.clamp(1.0, MOST)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_of_an_earlier_time_are_found_out() {
        let mut late = Late::default();
        let mut base = SensorBase {
            gain: 1.0,
            gain_sd: 0.01,
            offset_a: 0.0,
            offset_sd_a: 0.1,
            late_s: 0.0,
            late_sd_s: 0.03,
            excess: 1.0,
        };
        for number in 0..20_000_u32 {
            // What is lit moves back and forth, faster and slower; what is read was lit 30 ms ago.
            let skewed = 3.0 * (0.1 * f64::from(number)).sin() + (0.037 * f64::from(number)).sin();
            late.hear((0.03 - base.late_s) / 0.05 * skewed, skewed, &mut base);
        }
        assert!((base.late_s - 0.03).abs() < 1e-6, "{}", base.late_s);
        assert!((base.late_sd_s - LATE_KNOWN_S).abs() < 1e-12);
    }

    /// The variance of a sum of n values is n for independent ones, and n² where all are the same.
    #[test]
    fn what_stays_the_same_counts_less_and_noise_counts_whole() {
        let mut noise = Rest::new(1.0);
        let mut constant = Rest::new(1.0);
        let mut sign = 1.0;
        for number in 0..20_000_u32 {
            // Signs of a sequence that looks random: Weyl's, of the golden ratio.
            let way = (f64::from(number) * 0.618_033_988_75).fract();
            let other = (f64::from(number / 30) * 0.618_033_988_75).fract();
            noise.hear(if way < 0.5 { 1.0 } else { -1.0 }, false);
            sign = if other < 0.5 { 1.0 } else { -1.0 };
            constant.hear(0.3 * sign, false);
        }
        assert!(sign.abs() > 0.0);
        assert!((noise.factor() - 1.0).abs() < 0.1, "{}", noise.factor());
        // 0.3² · 30 = 2.7.
        assert!(
            (constant.factor() - 2.7).abs() < 0.01,
            "{}",
            constant.factor()
        );
    }
}
