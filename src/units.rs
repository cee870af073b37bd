//! Quantities as newtypes, so that amperes and watts can't be mixed by accident.
//!
//! [`Amps`], [`Volts`], [`Watts`] and [`Millimetres`] carry what a person wrote or reads.
//! [`Draw`] is the exact integer that the frame path adds up: no rounding, so a sum kept
//! incrementally never drifts from the sum taken afresh.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, Sub, SubAssign};

use serde::Serialize;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, Default, PartialEq, PartialOrd, Serialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }
        impl Sum for $name {
            fn sum<I: Iterator<Item = Self>>(items: I) -> Self {
                Self(items.map(|item| item.0).sum())
            }
        }
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                let digits = f.precision().unwrap_or(2);
                write!(f, "{:.digits$} {}", self.0, $unit)
            }
        }
    };
}

quantity!(
    /// Electric current in amperes.
    Amps, "A"
);
quantity!(
    /// Electric potential in volts.
    Volts, "V"
);
quantity!(
    /// Power in watts.
    Watts, "W"
);
quantity!(
    /// Length in millimetres.
    Millimetres, "mm"
);

impl Mul<Amps> for Volts {
    type Output = Watts;
    fn mul(self, current: Amps) -> Watts {
        Watts(self.0 * current.0)
    }
}

impl Div<Volts> for Watts {
    type Output = Amps;
    fn div(self, potential: Volts) -> Amps {
        Amps(self.0 / potential.0)
    }
}

/// A number of things, to reckon with.
#[expect(
    clippy::cast_precision_loss,
    reason = "far fewer than 2^53 things lie on a floor"
)]
pub const fn count(things: usize) -> f64 {
    things as f64
}

/// An exact amount of current: a count of 1/65,535 µA.
///
/// One step of an 8-bit level is 257 of 65,535 parts and one step of a 16-bit level is one part,
/// so with a colour's full current in whole microamperes every level has an exact integer draw.
/// A `u64` holds 281 million amperes.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Draw(pub u64);

/// Parts of one microampere in a [`Draw`].
pub const PARTS_PER_UA: u64 = 65_535;

impl Draw {
    /// No current.
    pub const ZERO: Self = Self(0);
    /// More than any floor can draw: the limit of what has none.
    pub const UNLIMITED: Self = Self(u64::MAX >> 8);

    /// The draw of `ua` whole microamperes.
    pub const fn from_ua(ua: u64) -> Self {
        Self(ua * PARTS_PER_UA)
    }

    /// A limit in amperes, rounded down so that it is never more than what was written.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped"
    )]
    pub fn limit(amps: Amps) -> Self {
        let parts = amps.0.max(0.0) * 1e6 * 65_535.0;
        Self((parts.floor() as u64).min(Self::UNLIMITED.0))
    }

    /// In amperes, for people.
    #[expect(
        clippy::cast_precision_loss,
        reason = "for display; 53 bits are enough"
    )]
    pub fn amps(self) -> Amps {
        Amps(self.0 as f64 / 65_535.0 / 1e6)
    }

    /// `self - other`, or nothing when `other` is larger.
    #[must_use]
    pub const fn less(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl Add for Draw {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl Sub for Draw {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl AddAssign for Draw {
    fn add_assign(&mut self, other: Self) {
        self.0 += other.0;
    }
}

impl SubAssign for Draw {
    fn sub_assign(&mut self, other: Self) {
        self.0 -= other.0;
    }
}

impl Sum for Draw {
    fn sum<I: Iterator<Item = Self>>(items: I) -> Self {
        Self(items.map(|item| item.0).sum())
    }
}

/// A made-up or real moment: microseconds since the daemon started. The core never reads a
/// clock; whoever calls it says what time it is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Time(pub u64);

impl Time {
    /// `s` seconds since the start.
    pub const fn from_s(s: u64) -> Self {
        Self(s * 1_000_000)
    }

    /// `ms` milliseconds since the start.
    pub const fn from_ms(ms: u64) -> Self {
        Self(ms * 1_000)
    }

    /// This moment and `us` microseconds more.
    #[must_use]
    pub const fn plus_us(self, us: u64) -> Self {
        Self(self.0.saturating_add(us))
    }

    /// This moment and `ms` milliseconds more.
    #[must_use]
    pub const fn plus_ms(self, ms: u64) -> Self {
        self.plus_us(ms * 1_000)
    }

    /// Microseconds from `earlier` to this moment; 0 if `earlier` is later.
    pub const fn us_since(self, earlier: Self) -> u64 {
        self.0.saturating_sub(earlier.0)
    }

    /// Seconds from `earlier` to this moment; 0 if `earlier` is later.
    #[expect(clippy::cast_precision_loss, reason = "for people and smoothing")]
    pub const fn s_since(self, earlier: Self) -> f64 {
        self.us_since(earlier) as f64 / 1e6
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_strip_of_five_metres_draws_what_catalogues_say() {
        // Common catalogue value: 14.4 W/m at 12 V is 1.2 A/m.
        let power = Watts(14.4 * 5.0);
        assert!(((power / Volts(12.0)).0 - 6.0).abs() < 1e-12);
        assert!(((Volts(12.0) * Amps(6.0)).0 - 72.0).abs() < 1e-12);
        assert_eq!(format!("{:.1}", Amps(6.0)), "6.0 A");
    }

    #[test]
    fn a_draw_is_exact_and_a_limit_is_never_rounded_up() {
        // WS2811 datasheet: 18.5 mA an output. Level 128 of 255 draws 128/255 of it.
        let per_step = 18_500 * 257;
        assert_eq!(Draw(per_step * 255), Draw::from_ua(18_500));
        let half = Draw(per_step * 128).amps().0;
        assert!((half - 0.0185 * 128.0 / 255.0).abs() < 1e-15);
        assert!(Draw::limit(Amps(8.0)).amps().0 <= 8.0);
        assert_eq!(Draw::limit(Amps(f64::INFINITY)), Draw::UNLIMITED);
    }
}
