//! Steps between states, folded into the seconds and minutes of the wall clock.

use std::collections::BTreeMap;

use crate::power::record::{Element, Step, Sum};
use crate::power::series::Row;

/// What is complete.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Rows {
    /// One for each second and element.
    pub seconds: Vec<Row>,
    /// One for each minute and element.
    pub minutes: Vec<Row>,
}

/// What grows now.
#[derive(Debug, Default)]
struct Open {
    at: i64,
    sums: BTreeMap<Element, Sum>,
}

impl Open {
    /// Adds a step to the row at `at`; if that is another than before, the one of before is complete.
    fn add(&mut self, at: i64, step: &Step, done: &mut Vec<Row>) {
        if at != self.at {
            self.close(done);
            self.at = at;
        }
        for (element, sum) in step.elements.iter().zip(&step.sums) {
            let Some(sum) = sum else { continue };
            if let Some(open) = self.sums.get_mut(element) {
                open.merge(sum);
            } else {
                self.sums.insert(element.clone(), *sum);
            }
        }
    }

    fn close(&mut self, done: &mut Vec<Row>) {
        let at = self.at;
        let sums = std::mem::take(&mut self.sums).into_iter();
        done.extend(sums.map(|(element, sum)| Row { at, element, sum }));
    }
}

/// Makes rows of steps.
#[derive(Debug, Default)]
pub struct Fold {
    second: Open,
    minute: Open,
}

impl Fold {
    /// Takes a step that ended at `unix_ms` of the wall clock, and adds what is complete to `rows`.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "a step is shorter than the longest gap"
    )]
    pub fn take(&mut self, unix_ms: i64, step: &Step, rows: &mut Rows) {
        // It belongs to where its middle lies.
        let second = (unix_ms - (step.s * 500.0) as i64).div_euclid(1_000);
        self.second.add(second, step, &mut rows.seconds);
        self.minute
            .add(second.div_euclid(60) * 60, step, &mut rows.minutes);
    }

    /// Adds to `rows` what has begun: it is all that there will be.
    pub fn end(&mut self, rows: &mut Rows) {
        self.second.close(&mut rows.seconds);
        self.minute.close(&mut rows.minutes);
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use proptest::prelude::*;

    use super::*;
    use crate::power::record::Reading;

    fn step(s: f64, draw_a: f64) -> Step {
        let reading = Reading {
            draw_a,
            scale: 1.0,
            ..Reading::default()
        };
        Step {
            s,
            at_s: 0.0,
            elements: Arc::new([Element::default()]),
            sums: vec![Some(Sum::between(s, &reading, &reading))],
        }
    }

    proptest! {
        /// However the wall clock jumps, no second of time and no ampere-second is lost or counted
        /// twice.
        #[test]
        fn nothing_is_lost_when_the_clock_jumps(
            steps in prop::collection::vec((0.05..2.0_f64, 0.0..40.0_f64, -200_i64..200), 1..200),
        ) {
            let (mut fold, mut rows) = (Fold::default(), Rows::default());
            let (mut s, mut charge, mut now) = (0.0, 0.0, 1_700_000_000_000.0_f64);
            for (long, draw_a, jump) in steps {
                now += long * 1e3;
                if jump.abs() > 180 {
                    now += f64::from(i32::try_from(jump).unwrap()) * 1e4;
                }
                s += long;
                charge += long * draw_a;
                #[expect(clippy::cast_possible_truncation, reason = "made up")]
                fold.take(now as i64, &step(long, draw_a), &mut rows);
            }
            fold.end(&mut rows);
            for kind in [&rows.seconds, &rows.minutes] {
                let covered: f64 = kind.iter().map(|row| row.sum.s).sum();
                let all: f64 = kind.iter().map(|row| row.sum.draw_as).sum();
                prop_assert!((covered - s).abs() < 1e-6 && (all - charge).abs() < 1e-6);
            }
            prop_assert!(rows.minutes.iter().all(|row| row.at % 60 == 0));
        }
    }

    #[test]
    fn a_second_holds_what_lies_in_it() {
        let (mut fold, mut rows) = (Fold::default(), Rows::default());
        for fifth in 1..=11 {
            let draw_a = if fifth <= 5 { 1.0 } else { 3.0 };
            fold.take(60_000 + 200 * fifth, &step(0.2, draw_a), &mut rows);
        }
        let seconds: Vec<_> = rows
            .seconds
            .iter()
            .map(|row| (row.at, row.sum.draw_as))
            .collect();
        assert_eq!(seconds.len(), 2);
        assert!((seconds[0].1 - 1.0).abs() < 1e-9 && (seconds[1].1 - 3.0).abs() < 1e-9);
        assert_eq!((seconds[0].0, seconds[1].0), (60, 61));
        assert!(rows.minutes.is_empty());
        fold.end(&mut rows);
        assert!((rows.minutes[0].sum.draw_as - 4.6).abs() < 1e-9);
    }
}
