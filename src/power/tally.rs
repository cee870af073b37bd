//! What every element drew since the start: peak, average, ampere-hours, kilowatt-hours, and the
//! time that the cap worked.

use std::collections::BTreeMap;

use super::record::{Element, Readings, Step, Stepper, Sum};

/// Since the start, of one element.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Total {
    /// All of it.
    pub sum: Sum,
    /// When most was drawn, in seconds since the daemon started.
    pub peak_at_s: f64,
}

/// The totals of one element.
#[derive(Debug, Clone, PartialEq)]
pub struct TotalRow {
    /// Whose.
    pub element: Element,
    /// Since the start.
    pub total: Total,
}

/// The totals of all elements since the start.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Energy {
    /// When it began, in seconds since 1970.
    pub since: i64,
    /// Uptime until which it is reckoned, in seconds.
    pub until_s: f64,
    /// From the mains down, by name.
    pub rows: Vec<TotalRow>,
}

/// Totals by element. One that the floor file names no more keeps what it had.
#[derive(Debug, Clone, Default)]
pub struct Tally {
    stepper: Stepper,
    totals: BTreeMap<Element, Total>,
}

impl Tally {
    /// Takes the next readings and gives what happened since the ones before.
    pub fn take(&mut self, readings: Readings) -> Option<Step> {
        let step = self.stepper.take(readings)?;
        for (element, sum) in step.elements.iter().zip(&step.sums) {
            let Some(sum) = sum else { continue };
            if let Some(total) = self.totals.get_mut(element) {
                total.add(sum, step.at_s);
            } else {
                let mut total = Total::default();
                total.add(sum, step.at_s);
                self.totals.insert(element.clone(), total);
            }
        }
        Some(step)
    }

    /// All of them, from the mains down, by name.
    pub fn rows(&self) -> Vec<TotalRow> {
        let rows = self.totals.iter().map(|(element, total)| TotalRow {
            element: element.clone(),
            total: *total,
        });
        rows.collect()
    }
}

impl Total {
    fn add(&mut self, sum: &Sum, at_s: f64) {
        if sum.draw_max_a > self.sum.draw_max_a {
            self.peak_at_s = at_s;
        }
        self.sum.merge(sum);
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use proptest::prelude::*;

    use super::super::record::Reading;
    use super::*;

    fn readings(at_s: f64, names: &[&str], draw_a: f64) -> Readings {
        let elements: Arc<[Element]> = names.iter().map(|name| name.parse().unwrap()).collect();
        let reading = Reading {
            asked_a: draw_a,
            draw_a,
            limit_a: Some(5.0),
            scale: if draw_a > 5.0 { 0.5 } else { 1.0 },
            mains_w: 230.0 * draw_a,
            ..Reading::default()
        };
        Readings {
            at_s,
            readings: vec![reading; elements.len()],
            elements,
        }
    }

    #[test]
    fn a_floor_that_is_replaced_keeps_what_has_the_same_name() {
        let mut tally = Tally::default();
        for (at_s, names) in [
            (0.0, &["feed:a", "feed:b"][..]),
            (1.0, &["feed:a", "feed:b"]),
            (2.0, &["feed:b", "feed:c"]),
            (3.0, &["feed:b", "feed:c"]),
        ] {
            tally.take(readings(at_s, names, 2.0));
        }
        let seconds: Vec<_> = tally
            .rows()
            .into_iter()
            .map(|row| (row.element.name, row.total.sum.s))
            .collect();
        let wanted = [("a", 1.0), ("b", 3.0), ("c", 1.0)];
        assert_eq!(seconds, wanted.map(|(name, s)| (name.to_owned(), s)));
    }

    proptest! {
        /// A ramp's area is half its height times its length (Euclid), however often it is read.
        #[test]
        fn it_goes_by_time_and_not_by_count(
            steps in prop::collection::vec(0.01..4.9_f64, 1..200),
            slope in 0.0..0.01_f64,
        ) {
            let mut tally = Tally::default();
            let mut at_s = 0.0;
            tally.take(readings(at_s, &["floor"], 0.0));
            for step in steps {
                at_s += step;
                tally.take(readings(at_s, &["floor"], slope * at_s));
            }
            let total = tally.rows()[0].total;
            let area = slope * at_s * at_s / 2.0;
            prop_assert!((total.sum.draw_as - area).abs() <= 1e-9 * (1.0 + area));
            prop_assert!((total.sum.s - at_s).abs() < 1e-6);
            if slope > 0.0 {
                prop_assert!((total.peak_at_s - at_s).abs() < 1e-6);
            }
        }
    }
}
