//! How late a sensor's readings are, found by what fits best: a picture that moves makes readings that
//! follow it, and shifted back by the right time they lie on a line over what was computed.
//!
//! Frames travel, nodes hold them, sensors mean over their period, brokers pass on: together that is some
//! tenths of a second, in which a bright floor gains or loses the current of a segment and more.

use std::collections::VecDeque;

use crate::units::Time;

/// Delays that are tried: every so many milliseconds, up to [`MOST_MS`].
const STEP_MS: u64 = 20;
const MOST_MS: u64 = 800;

/// So much is looked at in one go.
const WINDOW_MS: u64 = 5_000;

/// Looks that are so far apart say nothing of what was between.
const GAP_MS: u64 = 250;

/// Fewest readings of a window that say something.
const FEWEST: usize = 10;

/// What was found is forgotten by this share with every window.
const KEEP: f64 = 0.95;

/// The worst delay must fit so many times worse than the best one, or nothing moved enough to tell.
const TELLS: f64 = 2.0;

/// How late one sensor is.
#[derive(Debug, Clone)]
pub(super) struct Delay {
    /// What was computed at its place, and when.
    computed: VecDeque<(Time, f64)>,
    readings: VecDeque<(Time, f64)>,
    since: Option<Time>,
    /// For each delay the sum of squares that a line leaves.
    left: Vec<f64>,
    found_ms: Option<u64>,
}

impl Default for Delay {
    fn default() -> Self {
        Self {
            computed: VecDeque::new(),
            readings: VecDeque::new(),
            since: None,
            left: delays_ms().map(|_| 0.0).collect(),
            found_ms: None,
        }
    }
}

fn delays_ms() -> impl Iterator<Item = u64> {
    (0..=MOST_MS / STEP_MS).map(|step| step * STEP_MS)
}

impl Delay {
    /// How late it is, in milliseconds; nothing while that is not known.
    pub(super) const fn found_ms(&self) -> Option<u64> {
        self.found_ms
    }

    /// What is computed at its place from now on. Looks that come evenly make the best of it.
    pub(super) fn computed(&mut self, at: Time, total_a: f64) {
        self.computed.push_back((at, total_a));
        let since = *self.since.get_or_insert(at);
        if at.us_since(since) >= WINDOW_MS * 1_000 {
            self.weigh();
            self.since = Some(at);
        }
    }

    /// It said something.
    pub(super) fn read(&mut self, at: Time, value_a: f64) {
        self.readings.push_back((at, value_a));
    }

    fn weigh(&mut self) {
        let fits: Option<Vec<f64>> = delays_ms().map(|ms| self.left_by(ms)).collect();
        if let Some(fits) = fits {
            for (left, new) in self.left.iter_mut().zip(fits) {
                *left = *left * KEEP + new;
            }
            let tried = delays_ms().zip(&self.left);
            let best = tried.min_by(|(_, one), (_, other)| one.total_cmp(other));
            let worst = self.left.iter().copied().fold(0.0, f64::max);
            if let Some((ms, &least)) = best
                && worst > TELLS * least
            {
                self.found_ms = Some(ms);
            }
        }
        // Readings of the next window may be as late as that.
        if let Some(&(last, _)) = self.computed.back() {
            let old = |at: Time| last.us_since(at) > MOST_MS * 1_000;
            self.readings.retain(|(at, _)| !old(*at));
            while (self.computed.get(1)).is_some_and(|(at, _)| last.us_since(*at) > 2_000_000) {
                self.computed.pop_front();
            }
        }
    }

    /// The sum of squares that a line over what was computed `ms` earlier leaves of the readings;
    /// nothing if too few say something.
    fn left_by(&self, ms: u64) -> Option<f64> {
        let mut sums = [0.0_f64; 6];
        for &(at, value_a) in &self.readings {
            // All delays are judged by the same readings.
            let early = at.0.saturating_sub(MOST_MS * 1_000);
            let (Some(_), Some(_)) = (self.at(Time(early)), self.at(at)) else {
                continue;
            };
            let Some(total_a) = self.at(Time(at.0.saturating_sub(ms * 1_000))) else {
                continue;
            };
            let new = [
                1.0,
                total_a,
                value_a,
                total_a * total_a,
                total_a * value_a,
                value_a * value_a,
            ];
            for (sum, new) in sums.iter_mut().zip(new) {
                *sum += new;
            }
        }
        let [n, x, y, xx, xy, yy] = sums;
        if n < crate::units::count(FEWEST) {
            return None;
        }
        let (spread, both, all) = (xx - x * x / n, xy - x * y / n, yy - y * y / n);
        let explained = if spread > 1e-9 {
            both.max(0.0).powi(2) / spread
        } else {
            0.0
        };
        Some((all - explained).max(0.0))
    }

    /// What was computed at a moment: between two looks it went evenly from one to the other.
    fn at(&self, at: Time) -> Option<f64> {
        let next = self.computed.partition_point(|(look, _)| *look < at);
        let &(until, to_a) = self.computed.get(next)?;
        if until == at {
            return Some(to_a);
        }
        let &(since, from_a) = self.computed.get(next.checked_sub(1)?)?;
        let apart_us = until.us_since(since);
        if apart_us > GAP_MS * 1_000 {
            return None;
        }
        let share = at.s_since(since) / until.s_since(since);
        Some(from_a + (to_a - from_a) * share)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sim::link::Chance;

    /// A light that changes by chance every 0.43 s or wanders, a sensor that is off by gain, offset and
    /// noise and says ten times a second what was `late_ms` ago.
    fn found(late_ms: u64, jumps: bool, noise_a: f64) -> Option<u64> {
        let mut chance = Chance::new(late_ms + u64::from(jumps));
        let lights: Vec<f64> = (0..300).map(|_| 20.0 * chance.share()).collect();
        let light = |ms: u64| {
            let at = usize::try_from(ms / 430).unwrap();
            let part = f64::from(u32::try_from(ms % 430).unwrap()) / 430.0;
            if jumps {
                lights[at]
            } else {
                lights[at] + (lights[at + 1] - lights[at]) * part
            }
        };
        let mut delay = Delay::default();
        for ms in (2_000..60_000).step_by(10) {
            if ms % 100 == 0 {
                delay.computed(Time::from_ms(ms), light(ms));
            }
            if ms % 100 == 70 {
                let said = 0.9 * light(ms - late_ms) + 0.7 + noise_a * chance.normal();
                delay.read(Time::from_ms(ms), said);
            }
        }
        delay.found_ms()
    }

    #[test]
    fn the_delay_of_a_light_that_moves_is_found() {
        for late_ms in [0, 30, 100, 170, 250, 410, 640] {
            for jumps in [false, true] {
                let found = found(late_ms, jumps, 0.2).unwrap();
                // Looks are 100 ms apart, and a jump may have been anywhere between two.
                let off_ms = found.abs_diff(late_ms);
                assert!(
                    off_ms <= if jumps { 50 } else { 20 },
                    "{late_ms}, {jumps}: {found}"
                );
            }
        }
    }

    #[test]
    fn a_light_that_stands_still_tells_nothing() {
        let mut delay = Delay::default();
        let mut chance = Chance::new(5);
        for ms in (0..60_000).step_by(100) {
            delay.computed(Time::from_ms(ms), 10.0);
            delay.read(Time::from_ms(ms + 30), 10.0 + chance.normal());
        }
        assert_eq!(delay.found_ms(), None);
        assert_eq!(found(100, false, 500.0), None);
    }
}
