//! Levels to current: idle + Σ colour full current × level / maximum.
//!
//! Average current is linear in the level, for the level sets the share of time that the colour
//! is on (pulse-width modulation).

use crate::floor::model::Byte;
use crate::floor::tables::{Part, Pattern};
use crate::units::Draw;

/// A scale factor as a count of 1/65,536: [`Scale::ONE`] leaves every level as it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Scale(pub u32);

impl Scale {
    /// Nothing is dimmed.
    pub const ONE: Self = Self(65_536);
    /// Black.
    pub const ZERO: Self = Self(0);

    /// The largest factor that keeps `draw` within `room`; one if it fits as it is.
    pub fn to_fit(draw: Draw, room: Draw) -> Self {
        if draw <= room {
            return Self::ONE;
        }
        let parts = (u128::from(room.0) << 16) / u128::from(draw.0);
        Self(u32::try_from(parts).unwrap_or(Self::ONE.0).min(Self::ONE.0))
    }

    /// Both factors after one another, rounded down.
    #[must_use]
    pub const fn then(self, other: Self) -> Self {
        #[expect(clippy::cast_possible_truncation, reason = "both are 65,536 at most")]
        Self(((self.0 as u64 * other.0 as u64) >> 16) as u32)
    }

    /// `draw` times this factor, rounded up: never less than what scaled levels draw.
    #[must_use]
    pub fn of(self, draw: Draw) -> Draw {
        if self == Self::ONE {
            return draw;
        }
        let parts = (u128::from(draw.0) * u128::from(self.0) + 65_535) >> 16;
        Draw(u64::try_from(parts).unwrap_or(u64::MAX))
    }

    /// As a number from 0 to 1, for people.
    pub fn fraction(self) -> f64 {
        f64::from(self.0) / 65_536.0
    }

    /// An 8-bit level times this factor, rounded down.
    #[expect(clippy::cast_possible_truncation, reason = "a scale is 65,536 at most")]
    pub(super) const fn byte(self, level: u8) -> u8 {
        ((level as u32 * self.0) >> 16) as u8
    }

    /// Both halves of a 16-bit level times this factor, rounded down.
    #[expect(clippy::cast_possible_truncation, reason = "a scale is 65,536 at most")]
    pub(super) fn halves(self, coarse: u8, fine: u8) -> [u8; 2] {
        let level = u64::from(u16::from_be_bytes([coarse, fine]));
        (((level * u64::from(self.0)) >> 16) as u16).to_be_bytes()
    }
}

/// The stretch of `part` in the flat array of arriving slots.
pub fn source<'a>(part: &Part, arrived: &'a [u8]) -> &'a [u8] {
    &arrived[part.src as usize..][..usize::from(part.len)]
}

/// The draw of one part as asked, without idle.
pub fn asked(part: &Part, pattern: &Pattern, arrived: &[u8]) -> Draw {
    sum(part.phase, pattern, source(part, arrived))
}

/// Lanes in which levels are added up side by side: a multiple of the usual numbers of slots of a
/// pixel, so that all levels of a lane have one role.
const LANES: usize = 48;

/// Levels of a lane that 16 bits hold for certain.
const MOST_ROWS: usize = 256;

/// The draw of the slots of a stretch that begins at `phase` of its pattern, without idle.
pub fn sum(phase: u16, pattern: &Pattern, slots: &[u8]) -> Draw {
    let roles = &pattern.slots;
    if roles.is_empty() || !LANES.is_multiple_of(roles.len()) {
        return sum_one_by_one(phase, pattern, slots);
    }
    let mut parts = 0;
    for rows in slots.chunks(MOST_ROWS * LANES) {
        let mut lanes = [0_u16; LANES];
        let (whole, rest) = rows.as_chunks::<LANES>();
        for row in whole {
            for (lane, &level) in lanes.iter_mut().zip(row) {
                *lane += u16::from(level);
            }
        }
        for (lane, &level) in lanes.iter_mut().zip(rest) {
            *lane += u16::from(level);
        }
        let (first, others) = lanes.split_at(roles.len());
        let mut sums = [0_u32; LANES];
        for (sum, &lane) in sums.iter_mut().zip(first) {
            *sum = u32::from(lane);
        }
        for pixel in others.chunks_exact(roles.len()) {
            for (sum, &lane) in sums.iter_mut().zip(pixel) {
                *sum += u32::from(lane);
            }
        }
        let (head, tail) = roles.split_at(usize::from(phase) % roles.len());
        for (role, &sum) in tail.iter().chain(head).zip(&sums) {
            parts += u64::from(sum) * role.parts_per_step();
        }
    }
    Draw(parts)
}

/// The same for pixels of any number of slots.
fn sum_one_by_one(phase: u16, pattern: &Pattern, slots: &[u8]) -> Draw {
    let mut parts = 0;
    let mut role = pattern.slots.iter().cycle().skip(usize::from(phase));
    for &level in slots {
        let Some(role) = role.next() else { break };
        parts += u64::from(level) * role.parts_per_step();
    }
    Draw(parts)
}

/// Writes one part's levels times `scale`, rounded down, to where they leave, and returns their
/// draw without idle.
///
/// A 16-bit level is scaled as a whole, unless its halves leave in two universes: then each is
/// scaled on its own, for otherwise scaling could move current from one universe to the other.
/// That is rounded down by one coarse step at most.
pub fn write_scaled(
    part: &Part,
    pattern: &Pattern,
    arrived: &[u8],
    scale: Scale,
    leaving: &mut [u8],
) -> Draw {
    scale_into(part, pattern, arrived, scale, leaving);
    let written = &leaving[usize::from(part.dst)..][..usize::from(part.len)];
    sum(part.phase, pattern, written)
}

/// The same without the draw.
pub fn scale_into(
    part: &Part,
    pattern: &Pattern,
    arrived: &[u8],
    scale: Scale,
    leaving: &mut [u8],
) {
    let levels = source(part, arrived);
    let target = &mut leaving[usize::from(part.dst)..][..usize::from(part.len)];
    if scale == Scale::ONE {
        target.copy_from_slice(levels);
    } else if pattern.whole {
        for (to, &level) in target.iter_mut().zip(levels) {
            *to = scale.byte(level);
        }
    } else {
        let mut role = pattern.slots.iter().cycle().skip(usize::from(part.phase));
        for (at, to) in target.iter_mut().enumerate() {
            let Some(role) = role.next() else { break };
            let here = part.src as usize + at;
            let apart = |partner: i8| {
                at.checked_add_signed(isize::from(partner))
                    .is_none_or(|partner| partner >= levels.len())
            };
            *to = match role.byte {
                Byte::Whole => scale.byte(arrived[here]),
                Byte::Coarse { partner } | Byte::Fine { partner } if apart(partner) => {
                    scale.byte(arrived[here])
                }
                Byte::Coarse { partner } => {
                    scale.halves(arrived[here], at_partner(arrived, here, partner))[0]
                }
                Byte::Fine { partner } => {
                    scale.halves(at_partner(arrived, here, partner), arrived[here])[1]
                }
            };
        }
    }
}

fn at_partner(arrived: &[u8], here: usize, partner: i8) -> u8 {
    here.checked_add_signed(isize::from(partner))
        .and_then(|at| arrived.get(at))
        .copied()
        .unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::floor::model::{Colour, SlotRole};
    use crate::units::Amps;

    fn whole(full_ua: u32) -> Pattern {
        let role = |colour| SlotRole {
            colour,
            byte: Byte::Whole,
            full_ua,
        };
        Pattern {
            slots: [Colour::Green, Colour::Red, Colour::Blue].map(role).into(),
            whole: true,
            room: None,
        }
    }

    fn halves(full_ua: u32) -> Pattern {
        let role = |byte| SlotRole {
            colour: Colour::White,
            byte,
            full_ua,
        };
        Pattern {
            slots: vec![
                role(Byte::Coarse { partner: 1 }),
                role(Byte::Fine { partner: -1 }),
            ],
            whole: false,
            room: None,
        }
    }

    fn part(len: u16, phase: u16) -> Part {
        Part {
            panel: 0,
            pattern: 0,
            phase,
            dst: 0,
            len,
            src: 0,
            first_pixel: 0,
        }
    }

    #[test]
    fn catalogue_strip_draws_what_catalogues_say() {
        // Common catalogue value: 60 LEDs/m at 14.4 W/m on 12 V is 1.2 A/m, with 20 mA through
        // each 3-LED group and colour. Two metres are 120 LEDs = 40 groups = 120 slots: 2.4 A.
        let panel = part(120, 0);
        let draw = asked(&panel, &whole(20_000), &[255; 120]);
        assert_eq!(draw, Draw::from_ua(2_400_000));
        // Common practice, no source: 64 such panels draw 153.6 A, 76.8 % of a 200 A supply.
        let floor = Draw(draw.0 * 64).amps();
        assert!((floor.0 - 153.6).abs() < 1e-9);
        assert!((floor.0 / Amps(200.0).0 - 0.768).abs() < 1e-9);
    }

    #[test]
    fn level_128_draws_128_of_255() {
        // The linear rule of pulse-width modulation, with the 18.5 mA of the WS2811 datasheet.
        let draw = asked(&part(3, 0), &whole(18_500), &[128; 3]);
        assert!((draw.amps().0 - 3.0 * 0.0185 * 128.0 / 255.0).abs() < 1e-12);
        let sixteen = asked(&part(2, 0), &halves(18_500), &[0x80, 0x00]);
        assert!((sixteen.amps().0 - 0.0185 * 32_768.0 / 65_535.0).abs() < 1e-12);
    }

    proptest! {
        /// Against the sum of exact products, by the rule of the datasheet that one step is 1/255 of
        /// the full current.
        #[test]
        fn side_by_side_is_one_by_one(
            full_ua in prop::collection::vec(0..60_000_u32, 1..=12),
            phase in 0..12_u16,
            levels in prop::collection::vec(any::<u8>(), 0..600),
        ) {
            let role = |&full_ua: &u32| SlotRole { colour: Colour::Red, byte: Byte::Whole, full_ua };
            let phase = phase % u16::try_from(full_ua.len()).unwrap();
            let pattern = Pattern { slots: full_ua.iter().map(role).collect(), whole: true, room: None };
            let drawn = sum(phase, &pattern, &levels);
            prop_assert_eq!(drawn, sum_one_by_one(phase, &pattern, &levels));
            let at = |slot: usize| f64::from(full_ua[(slot + usize::from(phase)) % full_ua.len()]);
            let amps: f64 = levels.iter().enumerate()
                .map(|(slot, &level)| at(slot) * 1e-6 * f64::from(level) / 255.0)
                .sum();
            prop_assert!((drawn.amps().0 - amps).abs() < 1e-9);
        }

        #[test]
        fn scaled_levels_draw_no_more_than_the_scaled_draw(
            levels in prop::collection::vec(any::<u8>(), 48),
            factor in 0..=65_536_u32,
            wide in any::<bool>(),
            len in 1..=48_u16,
            phase in 0..2_u16,
        ) {
            let pattern = if wide { halves(21_000) } else { whole(18_500) };
            // A stretch of 16-bit levels may begin or end within a level, which then straddles.
            let part = Part { src: phase.into(), len: len.min(47), ..part(0, phase) };
            let mut leaving = [0; 512];
            let scale = Scale(factor);
            let draw = write_scaled(&part, &pattern, &levels, scale, &mut leaving);
            prop_assert_eq!(draw, sum(part.phase, &pattern, &leaving[..usize::from(part.len)]));
            prop_assert!(draw <= scale.of(asked(&part, &pattern, &levels)));
            for (at, &level) in leaving[..usize::from(part.len)].iter().enumerate() {
                let before = levels[part.src as usize + at];
                if !wide {
                    // Independent of the code: exact rational floor.
                    let exact = (f64::from(before) * f64::from(factor) / 65_536.0).floor();
                    prop_assert!((f64::from(level) - exact).abs() < 0.5);
                }
            }
        }

        #[test]
        fn a_factor_that_fits_fits(draw in 0..1u64 << 52, room in 0..1u64 << 52) {
            let factor = Scale::to_fit(Draw(draw), Draw(room));
            let exact = u128::from(draw) * u128::from(factor.0);
            prop_assert!(exact <= u128::from(room) << 16);
        }
    }
}
