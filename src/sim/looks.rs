//! The simulated console's looks: a colour for every place of the floor as a function of time.
//!
//! People may stand on what these drive, so every look swells and fades slowly: no place and no
//! floor as a whole flashes more than three times in any second (WCAG 2.2, success criterion
//! 2.3.1; the tests count).

use std::f32::consts::TAU;

use crate::units::Time;

/// How long a look stays, its fade in included.
pub const LOOK_S: f64 = 12.0;

/// How long one look takes to become the next.
pub const FADE_S: f64 = 2.5;

/// Red, green and blue as linear light, each 0 to 1.
pub type Rgb = [f32; 3];

/// A place on the floor.
#[derive(Debug, Clone, Copy)]
pub struct Place {
    /// From the left edge, 0 to 1 of the floor's longer side.
    pub x: f32,
    /// From the top edge, 0 to 1 of the floor's longer side.
    pub y: f32,
    /// Distance from the middle, 0 to 1 of the floor's longer side.
    pub radius: f32,
    /// A number of its own, 0 to 1, that looks like chance.
    pub chance: f32,
}

/// What the console plays, in this order, again and again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    /// The whole floor in one slowly turning colour.
    Swell,
    /// A ring that runs outwards from the middle.
    Ring,
    /// Diagonal bands that drift.
    Bands,
    /// Every pixel comes and goes in its own time.
    Twinkle,
    /// Everything at full, so that the cap has work.
    White,
}

impl Look {
    /// All of them in playing order.
    pub const ALL: [Self; 5] = [
        Self::Swell,
        Self::Ring,
        Self::Bands,
        Self::Twinkle,
        Self::White,
    ];

    /// What a person calls it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Swell => "colour swell",
            Self::Ring => "travelling ring",
            Self::Bands => "diagonal bands",
            Self::Twinkle => "twinkle",
            Self::White => "all white",
        }
    }

    /// The colour of `place` when this look is `s` seconds into the show.
    pub fn colour(self, place: Place, s: f32) -> Rgb {
        match self {
            Self::Swell => {
                let brightness = 0.45 + 0.25 * wave(s / 7.0);
                shade(hue(s / 30.0 + 0.1 * place.x), brightness)
            }
            Self::Ring => {
                let crest = (0.5 + 0.5 * wave(place.radius * 1.6 - s / 4.5)).powi(3);
                shade(hue(0.55 + 0.15 * wave(s / 20.0)), 0.05 + 0.85 * crest)
            }
            Self::Bands => {
                let across = (place.x + place.y) * 1.5 - s / 6.0;
                let share = 0.5 + 0.5 * wave(across);
                mix([0.75, 0.12, 0.02], [0.02, 0.25, 0.7], share)
            }
            Self::Twinkle => {
                let period_s = 3.0 + 4.0 * place.chance;
                let glow = (0.5 + 0.5 * wave(s / period_s + place.chance * 7.0)).powi(4);
                shade([1.0, 0.72, 0.38], 0.03 + 0.9 * glow)
            }
            Self::White => [1.0; 3],
        }
    }
}

/// What is played at a moment: one look, or a fade from one to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Playing {
    /// The look that leaves.
    pub from: Look,
    /// The look that comes or stays.
    pub to: Look,
    /// 0: all `from`; 1: all `to`.
    pub share: f32,
    /// Seconds since the show began.
    pub s: f32,
}

impl Playing {
    /// What is played at `t`. The very first look fades in from itself.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a turn is a small count, and a show of hours keeps milliseconds in an f32"
    )]
    pub fn at(t: Time) -> Self {
        let s = t.s_since(Time::default());
        let turn = (s / LOOK_S).floor();
        let count = Look::ALL.len() as u64;
        let index = (turn as u64 % count) as usize;
        let previous = if turn < 1.0 {
            index
        } else {
            (index + Look::ALL.len() - 1) % Look::ALL.len()
        };
        let share = ((s - turn * LOOK_S) / FADE_S).min(1.0) as f32;
        // The show's own time starts over every hour, so that it stays exact: 300 turns, a seam
        // at which only the white look is seen, and that does not move.
        let hour_s = s % 3_600.0;
        Self {
            from: Look::ALL[previous],
            to: Look::ALL[index],
            share: share * share * (3.0 - 2.0 * share),
            s: hour_s as f32,
        }
    }

    /// The colour of a place.
    pub fn colour(&self, place: Place) -> Rgb {
        let to = self.to.colour(place, self.s);
        if self.share >= 1.0 {
            return to;
        }
        mix(self.from.colour(place, self.s), to, self.share)
    }
}

/// A sine of `turns` whole turns.
fn wave(turns: f32) -> f32 {
    (turns * TAU).sin()
}

fn shade(colour: Rgb, brightness: f32) -> Rgb {
    colour.map(|level| level * brightness)
}

fn mix(from: Rgb, to: Rgb, share: f32) -> Rgb {
    [0, 1, 2].map(|i| from[i] + (to[i] - from[i]) * share)
}

/// A full colour from its place on the circle of hues, in turns.
fn hue(turns: f32) -> Rgb {
    [0.0, 1.0 / 3.0, 2.0 / 3.0].map(|offset| 0.5 + 0.5 * wave(turns + offset + 0.25))
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "exact by construction")]
mod tests {
    use super::*;

    #[test]
    fn every_look_gets_its_turn_and_fades_are_smooth() {
        let names: Vec<_> = (0..6)
            .map(|turn| Playing::at(Time::from_s(turn * 12 + 6)).to)
            .collect();
        assert_eq!(names[..5], Look::ALL);
        assert_eq!(names[5], Look::Swell);
        assert_eq!(Playing::at(Time::from_s(6)).share, 1.0);
        // Half way through a fade it is half of each.
        let half = Playing::at(Time::from_ms(12_000 + 1_250));
        assert_eq!(
            (half.from, half.to, half.share),
            (Look::Swell, Look::Ring, 0.5)
        );
        assert_eq!(Playing::at(Time::from_s(12)).share, 0.0);
    }

    #[test]
    fn colours_are_levels_and_white_is_full() {
        let place = Place {
            x: 0.3,
            y: 0.7,
            radius: 0.4,
            chance: 0.6,
        };
        for look in Look::ALL {
            for step in 0..500_u16 {
                let colour = look.colour(place, f32::from(step) * 0.1);
                assert!(
                    colour.iter().all(|level| (0.0..=1.0).contains(level)),
                    "{look:?} {colour:?}"
                );
            }
        }
        assert_eq!(Look::White.colour(place, 1.0), [1.0; 3]);
    }
}
