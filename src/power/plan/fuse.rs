//! Which fuse a load needs, and whether a short circuit opens it.

use serde::Serialize;

/// Ratings that blade fuses are made in, in amperes: ISO 8820-3.
pub const STANDARD_A: [f64; 12] = [
    1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0,
];

/// The rating is at least so many times a load that lasts: NEC 210.20(A), 215.3.
pub const OVER_LOAD: f64 = 1.25;

/// The share of a rating that a load may take for long: 1 / 1.25.
pub const CONTINUOUS: f64 = 0.8;

/// Below so many times its rating a fuse may never open (10 minutes at this), ISO 8820-3, from memory.
pub(super) const SURE: f64 = 1.35;

/// From so many times its rating on it opens within 5 s, ISO 8820-3, from memory.
const SOON: f64 = 2.0;

/// Floating point leaves this much of a 10 A fuse for 8 A, at most.
const TINY_A: f64 = 1e-9;

/// The smallest standard fuse for a load; nothing if none is large enough.
pub(super) fn next(load_a: f64) -> Option<f64> {
    let needed_a = load_a * OVER_LOAD - TINY_A;
    STANDARD_A.into_iter().find(|rating| *rating >= needed_a)
}

/// What a fuse does with a short circuit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Opens {
    /// It may carry this for ever, or for as good as ever.
    Never,
    /// Within minutes: too late for a wire that is too thin.
    Slowly,
    /// Within five seconds.
    Soon,
}

impl Opens {
    /// With so many amperes through a fuse.
    pub fn with(current_a: f64, fuse_a: f64) -> Self {
        if current_a < fuse_a * SURE {
            Self::Never
        } else if current_a < fuse_a * SOON {
            Self::Slowly
        } else {
            Self::Soon
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn fuses_are_those_that_were_worked_out() {
        // Worked by hand from ISO 8820-3's sizes: 7.2 A · 1.25 = 9.0 → 10 A; 8.1 → 10.125 → 15 A.
        assert_eq!((7.2 * OVER_LOAD, next(7.2)), (9.0, Some(10.0)));
        assert_eq!((8.1 * OVER_LOAD, next(8.1)), (10.125, Some(15.0)));
        assert_eq!(
            [0.0, 8.0, 32.0, 32.1].map(next),
            [Some(1.0), Some(10.0), Some(40.0), None]
        );
    }

    #[test]
    fn a_short_at_the_end_of_a_thin_cable_never_opens_a_large_fuse() {
        // Worked: 10 m of 24 AWG, 1.684 Ω out and back, draws 7.1 A from 12 V.
        assert_eq!(Opens::with(12.0 / 1.684, 10.0), Opens::Never);
        assert_eq!(Opens::with(13.4, 10.0), Opens::Never);
        assert_eq!(Opens::with(13.6, 10.0), Opens::Slowly);
        assert_eq!(Opens::with(20.0, 10.0), Opens::Soon);
    }

    proptest! {
        #[test]
        fn a_fuse_is_the_smallest_that_will_do(load_a in 0.0_f64..32.0) {
            let chosen = next(load_a).unwrap();
            prop_assert!(chosen >= 1.25 * load_a - 1e-6);
            if let Some(smaller) = STANDARD_A.iter().rev().find(|rating| **rating < chosen) {
                prop_assert!(*smaller < 1.25 * load_a);
            }
        }
    }
}
