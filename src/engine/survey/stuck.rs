//! Which of the dead items draw current all the time.
//!
//! One that is stuck does nothing of what it is told, as a dead one does, and what it draws is there in the
//! dark as well, where a survey takes it for what flows when nothing is lit. So it shows by that alone: a
//! sensor says more in the dark than it should, by what one dead item that it sees can draw.

use super::brief::BESIDE;
use crate::health::{Condition, Judged};

/// No item draws more than this share of its full current, tolerance and all.
const MOST: f64 = 1.1;

/// How probable it is that one that does nothing of what it is told draws all the time (the survey's own
/// guess).
const PRIOR: f64 = 0.05;

/// What a sensor said in the dark.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct InTheDark {
    /// By how much that is more than it should be, in amperes of items.
    pub(super) more_a: f64,
    /// How far it may be beside that by itself, as a standard deviation.
    pub(super) sd_a: f64,
    /// The items that it sees.
    pub(super) sees: Vec<usize>,
}

impl InTheDark {
    fn shows(&self) -> bool {
        self.more_a > BESIDE * self.sd_a
    }
}

/// Calls those stuck that can be told. Gives, for each sensor that says more than it should beside several
/// dead items, its number and how many those are: it can't be told which of them it is.
pub(super) fn find(
    sensors: &[InTheDark],
    full_a: &[f64],
    judged: &mut [Judged],
) -> Vec<(usize, usize)> {
    let mut which = Vec::new();
    let mut stuck = Vec::new();
    for (number, sensor) in sensors.iter().enumerate().filter(|(_, one)| one.shows()) {
        let may = |item: &usize| {
            let agrees = |other: &InTheDark| {
                !other.sees.contains(item)
                    || other.more_a > sensor.more_a - BESIDE * (sensor.sd_a + other.sd_a)
            };
            judged[*item].condition == Condition::Dead
                && sensor.more_a < MOST.mul_add(full_a[*item], BESIDE * sensor.sd_a)
                && sensors.iter().all(agrees)
        };
        let may: Vec<usize> = sensor.sees.iter().copied().filter(may).collect();
        match may[..] {
            [] => {}
            [item] => stuck.push((item, sensor)),
            _ => which.push((number, may.len())),
        }
    }
    for &(item, sensor) in &stuck {
        let off = sensor.more_a / sensor.sd_a;
        let by_itself = (1.0 - PRIOR) / PRIOR * (-0.5 * off * off).exp();
        judged[item] = Judged {
            condition: Condition::Stuck((sensor.more_a / full_a[item]).min(1.0)),
            doubt: (judged[item].doubt + by_itself).min(1.0),
        };
    }
    // One that is known by another sensor explains what this one says.
    which.retain(|(number, _)| {
        let mut known = stuck.iter().map(|(item, _)| item);
        !known.any(|item| sensors[*number].sees.contains(item))
    });
    which
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dead() -> Judged {
        Judged {
            condition: Condition::Dead,
            doubt: 1e-4,
        }
    }

    fn in_the_dark(more_a: f64, sd_a: f64, sees: &[usize]) -> InTheDark {
        InTheDark {
            more_a,
            sd_a,
            sees: sees.to_vec(),
        }
    }

    #[test]
    fn the_only_dead_one_that_explains_it_is_stuck() {
        let mut judged = vec![Judged::default(), dead(), Judged::default(), dead()];
        let sensors = [
            in_the_dark(0.39, 0.05, &[0, 1]),
            in_the_dark(0.02, 0.05, &[2, 3]),
        ];
        assert_eq!(find(&sensors, &[0.78; 4], &mut judged), []);
        let Condition::Stuck(share) = judged[1].condition else {
            panic!("{judged:?}");
        };
        assert!((share - 0.5).abs() < 1e-9);
        assert!(judged[1].doubt < 1e-3);
        assert_eq!(judged[3].condition, Condition::Dead);
    }

    #[test]
    fn what_no_dead_one_explains_makes_none_stuck() {
        for more_a in [-0.78, 0.1, 0.19, 1.1, 5.0] {
            let mut judged = vec![Judged::default(), dead()];
            assert_eq!(
                find(
                    &[in_the_dark(more_a, 0.05, &[0, 1])],
                    &[0.78; 2],
                    &mut judged
                ),
                []
            );
            assert_eq!(judged[1], dead(), "{more_a}");
        }
    }

    #[test]
    fn of_several_dead_ones_it_takes_another_sensor_to_say_which() {
        let whole = in_the_dark(0.8, 0.1, &[0, 1, 2]);
        let mut judged = vec![dead(), dead(), Judged::default()];
        assert_eq!(
            find(std::slice::from_ref(&whole), &[0.78; 3], &mut judged),
            [(0, 2)]
        );
        assert_eq!(judged[..2], [dead(), dead()]);
        let feeds = [
            in_the_dark(0.0, 0.02, &[0]),
            in_the_dark(0.78, 0.02, &[1, 2]),
        ];
        let sensors = [&[whole][..], &feeds].concat();
        assert_eq!(find(&sensors, &[0.78; 3], &mut judged), []);
        assert_eq!(judged[0], dead());
        assert!(matches!(judged[1].condition, Condition::Stuck(_)));
    }
}
