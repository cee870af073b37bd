//! Counts flashes as WCAG 2.2, success criterion 2.3.1 defines them, to prove that the looks
//! don't. Linear light in, since a pulse-width level is linear already.

use crate::units::Time;

/// Relative luminance, of linear light.
fn luminance([red, green, blue]: [f64; 3]) -> f64 {
    0.2126 * red + 0.7152 * green + 0.0722 * blue
}

/// (score of red, whether it is a saturated red).
fn redness([red, green, blue]: [f64; 3]) -> (f64, bool) {
    let sum = red + green + blue;
    (
        ((red - green - blue) * 320.0).max(0.0),
        sum > 0.0 && red / sum >= 0.8,
    )
}

/// Finds opposing changes of one quantity: from a lowest to a highest value and back, each far
/// enough from the other to count. A ripple on a long rise is part of the rise.
#[derive(Debug, Clone, Default)]
struct Swings {
    /// Lowest and highest value since the last turn, each with its mark.
    extremes: Option<[(f64, bool); 2]>,
    /// Whether the last swing went up; nothing before the first.
    rising: Option<bool>,
    moments: Vec<Time>,
}

impl Swings {
    /// `counts` says whether a swing between two values is large enough.
    fn see(
        &mut self,
        t: Time,
        value: (f64, bool),
        counts: impl Fn((f64, bool), (f64, bool)) -> bool,
    ) {
        let [low, high] = self.extremes.get_or_insert([value; 2]);
        if value.0 < low.0 {
            *low = value;
        }
        if value.0 > high.0 {
            *high = value;
        }
        if self.rising != Some(true) && counts(*low, value) {
            (self.rising, *high) = (Some(true), value);
            self.moments.push(t);
        } else if self.rising != Some(false) && counts(*high, value) {
            (self.rising, *low) = (Some(false), value);
            self.moments.push(t);
        }
    }

    /// Most flashes (pairs of opposing swings) that end and begin within any one second.
    fn most_in_a_second(&self) -> usize {
        let mut most = 0;
        for (first, &from) in self.moments.iter().enumerate() {
            let within = self.moments[first..]
                .iter()
                .take_while(|t| t.us_since(from) < 1_000_000);
            most = most.max(within.count() / 2);
        }
        most
    }
}

/// A counter for one area.
#[derive(Debug, Clone, Default)]
pub(super) struct Flashes {
    general: Swings,
    red: Swings,
}

impl Flashes {
    /// The mean colour of the area at `t`.
    pub(super) fn see(&mut self, t: Time, colour: [f64; 3]) {
        self.general.see(t, (luminance(colour), false), |a, b| {
            (a.0 - b.0).abs() >= 0.1 && a.0.min(b.0) < 0.8
        });
        self.red.see(t, redness(colour), |a, b| {
            (a.0 - b.0).abs() > 20.0 && (a.1 || b.1)
        });
    }

    /// Large changes seen, in either direction.
    pub(super) fn changes(&self) -> usize {
        self.general.moments.len()
    }

    /// Most flashes of either kind in any one second.
    pub(super) fn most_in_a_second(&self) -> usize {
        self.general
            .most_in_a_second()
            .max(self.red.most_in_a_second())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Most flashes in a second when two colours alternate, each held for `hold_ms`.
    fn alternate(a: [f64; 3], b: [f64; 3], hold_ms: u64, holds: u64) -> usize {
        let mut counter = Flashes::default();
        for hold in 0..holds {
            let colour = if hold % 2 == 0 { a } else { b };
            for frame in 0..4 {
                counter.see(Time::from_ms(hold * hold_ms + frame * hold_ms / 4), colour);
            }
        }
        counter.most_in_a_second()
    }

    fn grey(level: f64) -> [f64; 3] {
        [level / 255.0; 3]
    }

    fn red(level: f64) -> [f64; 3] {
        [level / 255.0, 0.0, 0.0]
    }

    #[test]
    fn counts_what_the_definition_counts() {
        // WCAG 2.2, general flash: 10 % of the maximum, the darker below 0.80.
        assert_eq!(alternate(grey(0.0), grey(25.0), 200, 20), 0);
        assert!(alternate(grey(0.0), grey(26.0), 200, 20) > 0);
        assert_eq!(alternate(grey(255.0), grey(0.81 * 255.0), 200, 20), 0);
        // Red flash: a change of the score over 20; 16 of 255 scores 20.08, 15 scores 18.82.
        assert_eq!(alternate(red(0.0), red(15.0), 200, 20), 0);
        assert!(alternate(red(0.0), red(16.0), 200, 20) > 0);
        // Three a second pass, four fail.
        assert_eq!(alternate(grey(0.0), grey(255.0), 167, 60), 3);
        assert_eq!(alternate(grey(0.0), grey(255.0), 125, 60), 4);
    }

    #[test]
    fn a_slow_fade_counts_once_and_a_ripple_on_it_not_at_all() {
        let mut counter = Flashes::default();
        for step in 0..1_000_u32 {
            let ripple = if step % 2 == 0 { 0.02 } else { 0.0 };
            counter.see(
                Time::from_ms(u64::from(step)),
                [f64::from(step) / 1_000.0 + ripple; 3],
            );
        }
        assert_eq!(counter.changes(), 1);
    }
}
