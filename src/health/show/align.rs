//! What was computed at the moment a sensor felt it: what left is kept for a while, so that a reading
//! is held against its own time and not against what shows when it arrives.

use std::collections::VecDeque;

use crate::units::Time;

/// A sensor still feels what was so many of its time constants ago: 2 % of it.
const FELT: f64 = 4.0;
/// How far apart content and readings may be in time, beside the sensor's lag, in microseconds: frames
/// travel, nodes hold them, sensors take their time.
const SKEW_US: u64 = 50_000;
/// The same in seconds.
pub(super) const SKEW_S: f64 = 0.05;
/// Two samples of content that follow each other so soon are of a light that moved between them; of a
/// light that stood still longer, the change is taken to have come with the later one.
const MOVED_US: u64 = 150_000;

/// What each item was computed to draw, since when.
#[derive(Debug, Clone)]
pub struct History {
    /// How long a piece is kept once it is over.
    keep_us: u64,
    pieces: VecDeque<(Time, Vec<f64>)>,
    /// Up to when it is known.
    until: Time,
}

/// What one sensor's items drew as that sensor feels it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Felt {
    /// Sum over the items.
    pub total_a: f64,
    /// By how much an error of time may put the sum wrong: half of how it changes from a little before
    /// to a little after.
    pub skewed_a: f64,
    /// The same squared and summed over the items that jump: when each of them did is not known, and one
    /// that goes dark as its neighbour lights up changes no sum.
    pub jumps: f64,
}

impl History {
    /// Nothing was sent yet; reaches back as far as this slowest time constant asks.
    pub fn new(slowest_lag_s: f64) -> Self {
        Self {
            // Readings may arrive a second late.
            keep_us: us(FELT * slowest_lag_s) + 2 * SKEW_US + 1_000_000,
            pieces: VecDeque::new(),
            until: Time::default(),
        }
    }

    /// From now on this is what each item is computed to draw.
    pub fn put(&mut self, at: Time, computed_a: &[f64]) {
        let before = self.until;
        self.until = self.until.max(at);
        if let Some((since, last)) = self.pieces.back_mut() {
            if last == computed_a {
                return;
            }
            if at <= *since {
                // What is newer counts, whatever its clock says.
                last.copy_from_slice(computed_a);
                return;
            }
            if before > *since && at > before && at.us_since(before) <= MOVED_US {
                // It stood still until the last sample, and moved since.
                let last = last.clone();
                self.pieces.push_back((before, last));
            }
        }
        self.pieces.push_back((at, computed_a.to_vec()));
        while self.pieces.len() > 1 && at.us_since(self.pieces[1].0) > self.keep_us {
            self.pieces.pop_front();
        }
    }

    /// Whether all content that a reading of this moment depends on has come.
    pub fn knows(&self, at: Time) -> bool {
        self.until >= at.plus_us(SKEW_US)
    }

    /// The newest content.
    pub fn newest(&self) -> Option<&[f64]> {
        self.pieces.back().map(|(_, computed_a)| &computed_a[..])
    }

    /// What a sensor of this time constant feels of each of these items at a moment; nothing if content
    /// is not known far enough back. Only the cells of `items` are written. An item that changes by more
    /// than twice `jump_a` while the skew lasts jumps.
    pub fn felt(
        &self,
        at: Time,
        lag_s: f64,
        (items, jump_a): (&[u32], f64),
        into: &mut [f64],
    ) -> Option<Felt> {
        let before = Time(at.0.saturating_sub(SKEW_US));
        let after = at.plus_us(SKEW_US);
        let earliest = self.pieces.front()?.0;
        if earliest > before || earliest.plus_us(us(FELT * lag_s)) > at {
            return None;
        }
        for &item in items {
            into[item as usize] = 0.0;
        }
        self.weigh(at, lag_s, |weight, computed_a| {
            for &item in items {
                into[item as usize] += weight * computed_a[item as usize];
            }
        });
        let mut changes = vec![0.0; items.len()];
        for (moment, sign) in [(after, 0.5), (before, -0.5)] {
            self.weigh(moment, lag_s, |weight, computed_a| {
                for (change, &item) in changes.iter_mut().zip(items) {
                    *change += sign * weight * computed_a[item as usize];
                }
            });
        }
        Some(Felt {
            total_a: items.iter().map(|&item| into[item as usize]).sum(),
            skewed_a: changes.iter().sum(),
            jumps: changes
                .iter()
                .filter(|change| change.abs() > jump_a)
                .map(|change| change * change)
                .sum(),
        })
    }

    /// Hands over every picture that is felt at a moment, with its weight; they sum to 1.
    fn weigh(&self, at: Time, lag_s: f64, mut take: impl FnMut(f64, &[f64])) {
        // A first-order lag: what is over since t counts exp(−t / lag) of what it did.
        let counts = |since: Time| {
            if lag_s <= 0.0 {
                return 0.0;
            }
            (-at.s_since(since) / lag_s).exp()
        };
        let mut next: Option<(Time, &[f64])> = None;
        for (number, (since, computed_a)) in self.pieces.iter().enumerate().rev() {
            let later = next.replace((*since, computed_a));
            if *since > at {
                continue;
            }
            // How much of what is felt was felt before, and was there by the end of this piece.
            let before = if number == 0 { 0.0 } else { counts(*since) };
            let end = later.map_or(at, |(end, _)| end.min(at));
            let by_end = if end == at { 1.0 } else { counts(end) };
            match later.filter(|(end, _)| end.us_since(*since) <= MOVED_US) {
                Some((until, to)) => {
                    // The light moved evenly from one to the other; the mean way it had gone by then,
                    // each moment with its weight.
                    let whole_s = until.s_since(*since);
                    let gone = end.s_since(*since) / whole_s;
                    let way = if lag_s > 0.0 {
                        gone * by_end - lag_s / whole_s * (by_end - counts(*since))
                    } else {
                        gone * by_end
                    };
                    let way = way.clamp(0.0, by_end - before.min(by_end));
                    take(way, to);
                    take(by_end - before - way, computed_a);
                }
                None => take(by_end - before, computed_a),
            }
            if before < 1e-3 {
                if before > 0.0 {
                    take(before, computed_a);
                }
                break;
            }
        }
    }
}

/// A moment so many seconds earlier; later if that is negative.
#[expect(clippy::cast_possible_truncation, reason = "some tenths of a second")]
pub(super) fn earlier(at: Time, by_s: f64) -> Time {
    Time(at.0.saturating_add_signed((-by_s * 1e6) as i64))
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "seconds of a lag, not negative"
)]
fn us(s: f64) -> u64 {
    (s.max(0.0) * 1e6) as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn felt(history: &History, ms: u64, lag_s: f64) -> Option<(f64, f64)> {
        let mut into = [0.0];
        let felt = history.felt(Time::from_ms(ms), lag_s, (&[0], 0.1), &mut into)?;
        assert!((felt.total_a - into[0]).abs() < 1e-12);
        Some((felt.total_a, felt.skewed_a))
    }

    /// The step response of a first-order lag, 1 − exp(−t/τ): textbook.
    #[test]
    fn a_lagging_sensor_feels_a_step_as_textbooks_say() {
        let mut history = History::new(0.5);
        history.put(Time::from_ms(0), &[0.0]);
        history.put(Time::from_ms(10_000), &[2.0]);
        for ms in [0, 100, 500, 1_500] {
            let (total_a, _) = felt(&history, 10_000 + ms, 0.5).unwrap();
            let t = Time::from_ms(ms).s_since(Time(0));
            assert!(
                (total_a - 2.0 * (1.0 - (-t / 0.5).exp())).abs() < 1e-12,
                "{ms}"
            );
        }
        assert!((felt(&history, 14_000, 0.5).unwrap().0 - 2.0).abs() < 1e-12);
    }

    #[test]
    fn a_change_counts_from_its_own_time_however_late_a_reading_comes() {
        let mut history = History::new(0.0);
        for second in 0..20_u32 {
            history.put(Time::from_s(second.into()), &[f64::from(second)]);
        }
        assert_eq!(felt(&history, 18_500, 0.0), Some((18.0, 0.0)));
        assert_eq!(felt(&history, 25_000, 0.0), Some((19.0, 0.0)));
        // Half an ampere either way may be an error of time.
        assert_eq!(felt(&history, 19_000, 0.0), Some((19.0, 0.5)));
        // That long ago nothing is known any more.
        assert_eq!(felt(&history, 3_000, 0.0), None);
    }

    #[test]
    fn a_light_sampled_ten_times_a_second_moves_evenly_between() {
        let mut history = History::new(0.3);
        let at = |tenth: u32| 0.1 * f64::from(tenth);
        for tenth in 0..100 {
            history.put(Time::from_ms(u64::from(100 * tenth)), &[at(tenth)]);
        }
        let (total_a, skewed_a) = felt(&history, 9_030, 0.0).unwrap();
        assert!((total_a - 9.03).abs() < 1e-9, "{total_a}");
        assert!((skewed_a - 0.05).abs() < 1e-9, "{skewed_a}");
        // A first-order lag follows a ramp its time constant late: textbook.
        let (total_a, _) = felt(&history, 9_070, 0.3).unwrap();
        assert!((total_a - 8.77).abs() < 2e-3, "{total_a}");
        // It stood still, and changed between two samples.
        for tenth in 100..120 {
            history.put(Time::from_ms(100 * tenth), &[3.0]);
        }
        history.put(Time::from_ms(12_000), &[5.0]);
        assert!((felt(&history, 11_500, 0.0).unwrap().0 - 3.0).abs() < 1e-9);
        assert!((felt(&history, 11_950, 0.0).unwrap().0 - 4.0).abs() < 1e-9);
    }

    #[test]
    fn weights_of_pieces_sum_to_one() {
        let mut history = History::new(2.0);
        for tenth in 0..300 {
            history.put(
                Time::from_ms(100 * tenth),
                &[1.0, 0.1 * f64::from(u32::try_from(tenth).unwrap())],
            );
        }
        for lag_s in [0.0, 0.01, 0.3, 2.0] {
            let (total_a, skewed_a) = felt(&history, 29_950, lag_s).unwrap();
            assert!((total_a - 1.0).abs() < 1e-12, "{lag_s}: {total_a}");
            assert!(skewed_a.abs() < 1e-12);
        }
    }
}
