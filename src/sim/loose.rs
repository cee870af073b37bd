//! Joints that open and close: under feet, and by themselves.

use super::link::Chance;
use crate::units::Time;

/// After feet have left, a joint that rings is open or closed for so long at a time, in ms.
const RING_MS: [u64; 2] = [20, 90];

/// What makes a joint open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Habit {
    /// A step on a switch of its panel, now and then.
    UnderFeet {
        /// Probability that a press opens it, 0 to 1; it stays open while anything is pressed.
        chance: f64,
        /// After the last release it opens and closes for so long at most, in milliseconds.
        ring_ms: u64,
    },
    /// Nothing that anybody could see: it stays closed and open for times by chance, whose means
    /// these are (exponentially distributed).
    ByItself {
        /// Mean time between two openings, in seconds.
        closed_s: f64,
        /// Mean time that it stays open, in seconds.
        open_s: f64,
    },
}

/// A joint that opens and closes.
#[derive(Debug, Clone)]
pub struct Loose {
    habit: Habit,
    open: bool,
    pressed: bool,
    /// When it changes next; nothing: not by itself.
    next: Option<Time>,
    ring_ends: Time,
}

impl Loose {
    /// A closed one.
    pub const fn new(habit: Habit) -> Self {
        Self {
            habit,
            open: false,
            pressed: false,
            next: None,
            ring_ends: Time(0),
        }
    }

    /// Whether it is open.
    pub const fn is_open(&self) -> bool {
        self.open
    }

    /// Lets time pass until `now`, while feet are on a switch of its panel or not; says whether it is
    /// open. Called as often as feet may come and go, and at least every few milliseconds while
    /// its ringing matters.
    pub fn step(&mut self, now: Time, pressed: bool, chance: &mut Chance) -> bool {
        match self.habit {
            Habit::UnderFeet {
                chance: often,
                ring_ms,
            } => self.under_feet(now, pressed, chance, often, ring_ms),
            Habit::ByItself { closed_s, open_s } => {
                let mean_s = |open: bool| if open { open_s } else { closed_s };
                let mut at = self
                    .next
                    .unwrap_or_else(|| after(now, mean_s(self.open), chance));
                while now >= at {
                    self.open = !self.open;
                    at = after(at, mean_s(self.open), chance);
                }
                self.next = Some(at);
            }
        }
        self.pressed = pressed;
        self.open
    }

    fn under_feet(
        &mut self,
        now: Time,
        pressed: bool,
        chance: &mut Chance,
        often: f64,
        ring_ms: u64,
    ) {
        if pressed && !self.pressed {
            self.next = None;
            self.open = chance.share() < often;
        } else if self.pressed && !pressed && self.open {
            self.ring_ends = now.plus_ms(chance.up_to(ring_ms));
            self.next = Some(now);
        }
        while let Some(at) = self.next.filter(|&at| now >= at) {
            if at >= self.ring_ends {
                (self.open, self.next) = (false, None);
                break;
            }
            self.open = !self.open;
            let stays = RING_MS[0] + chance.up_to(RING_MS[1] - RING_MS[0]);
            self.next = Some(at.plus_ms(stays).min(self.ring_ends));
        }
    }
}

/// A time after `from` by chance, exponentially distributed; a millisecond at least.
fn after(from: Time, mean_s: f64, chance: &mut Chance) -> Time {
    let s = (-mean_s * (1.0 - chance.share()).ln()).clamp(1e-3, 1e6);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "held between a millisecond and eleven days"
    )]
    from.plus_us((s * 1e6) as u64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn under_feet_it_opens_as_often_as_said_and_closes_after_ringing() {
        let (presses, often, ring_ms) = (4_000_u32, 0.3, 400);
        let mut loose = Loose::new(Habit::UnderFeet {
            chance: often,
            ring_ms,
        });
        let mut chance = Chance::new(5);
        let (mut opened, mut rang) = (0_u32, 0_u32);
        for press in 0..u64::from(presses) {
            let begin = press * 2_000;
            let at = |ms: u64| Time::from_ms(begin + ms);
            assert!(!loose.step(at(0), false, &mut chance), "closed before");
            let open = loose.step(at(100), true, &mut chance);
            opened += u32::from(open);
            for ms in (110..600).step_by(10) {
                assert_eq!(loose.step(at(ms), true, &mut chance), open, "while pressed");
            }
            let mut last = loose.step(at(600), false, &mut chance);
            for ms in (610..1_100).step_by(10) {
                let now = loose.step(at(ms), false, &mut chance);
                rang += u32::from(now != last);
                assert!(open || !now, "one that did not open does not ring");
                last = now;
            }
            assert!(!last, "rung out");
        }
        // Four standard errors of a share of n: √(p(1 − p)/n).
        let share = f64::from(opened) / f64::from(presses);
        let bound = 4.0 * (often * (1.0 - often) / f64::from(presses)).sqrt();
        assert!((share - often).abs() < bound, "{share}");
        assert!(rang > opened, "{rang} changes after {opened} openings");
    }

    /// Means of n exponentially distributed times have a standard error of mean/√n.
    #[test]
    fn by_itself_it_is_open_and_closed_for_the_said_times() {
        let mut loose = Loose::new(Habit::ByItself {
            closed_s: 5.0,
            open_s: 0.5,
        });
        let mut chance = Chance::new(2);
        let (mut open_ms, mut openings, mut last) = (0_u32, 0_u32, false);
        let ms = 20_000_000_u32;
        for at in (0..ms).step_by(5) {
            let now = loose.step(Time::from_ms(at.into()), false, &mut chance);
            open_ms += if now { 5 } else { 0 };
            openings += u32::from(now && !last);
            last = now;
        }
        let n = f64::from(openings);
        let cycle_s = f64::from(ms) / 1e3 / n;
        // Openings shorter than the 5 ms between two looks are not seen: 1 % of them.
        assert!(
            (cycle_s - 5.5).abs() < 4.0 * 5.03 / n.sqrt() + 0.06,
            "{cycle_s}"
        );
        let open_s = f64::from(open_ms) / 1e3 / n;
        assert!(
            (open_s - 0.5).abs() < 4.0 * 0.5 / n.sqrt() + 0.01,
            "{open_s}"
        );
    }
}
