//! How long each pattern of a survey is held.
//!
//! A pattern costs time before its first reading counts: until it is surely on show, and until the
//! slowest sensor has settled. Where noise hides a single item, it pays to stay for more readings then;
//! where one reading tells all, the next pattern tells more.

use super::{LEAST_HOLD_S, SurveySpec};

/// A sensor has settled after so many of its time constants: to 2 %.
const SETTLED: f64 = 4.0;

/// What one pattern says of an item is never better than this, as a variance against what is sought
/// squared, however long it is held: the other items are in doubt as well (a guess, not yet measured).
const OTHERS: f64 = 0.16;

/// No pattern is held for more readings than this beyond the first.
const MOST_MORE: u32 = 30;

/// Rounding of times must not cost a reading.
const ROUNDING_S: f64 = 1e-6;

/// Long enough for every sensor to settle and be read once, and longer if that pays.
pub(super) fn hold_s(spec: &SurveySpec) -> f64 {
    let sensors = spec.sensors.iter();
    let slowest = sensors.map(|sensor| SETTLED * sensor.lag_s - sensor.stays_s + sensor.every_s);
    let least_s = slowest.fold(spec.least_hold_s.max(LEAST_HOLD_S), f64::max);
    let periods = spec.sensors.iter().map(|sensor| sensor.every_s);
    let period_s = periods.fold(f64::INFINITY, f64::min);
    if !period_s.is_finite() {
        return least_s;
    }
    let (mut best, mut best_s) = (0.0, least_s);
    for more in 0..=MOST_MORE {
        let held_s = f64::from(more).mul_add(period_s, least_s);
        let told = told(spec, held_s) / (held_s + spec.change_s);
        // A longer one has to be clearly better: more patterns are what sets items apart.
        if told > 1.01 * best {
            (best, best_s) = (told, held_s);
        }
    }
    best_s
}

/// What a pattern that is held for so long tells of the item of which it tells the least.
fn told(spec: &SurveySpec, held_s: f64) -> f64 {
    let sought = spec.sought_lack();
    let variances: Vec<f64> = spec
        .sensors
        .iter()
        .map(|sensor| {
            let reads_s = SETTLED.mul_add(-sensor.lag_s, held_s) + sensor.stays_s + ROUNDING_S;
            sensor.variance((reads_s / sensor.every_s).floor().max(1.0))
        })
        .collect();
    let seen = spec
        .items
        .iter()
        .filter(|item| item.full_a > 0.0 && !item.sensors.is_empty());
    let told = seen.map(|item| {
        let sought_a = item.full_a * sought;
        let of =
            |sensor: &u16| 1.0 / (variances[usize::from(*sensor)] / (sought_a * sought_a) + OTHERS);
        item.sensors.iter().map(of).sum::<f64>()
    });
    let least = told.fold(f64::INFINITY, f64::min);
    if least.is_finite() { least } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::super::{SurveyItem, SurveySensor};
    use super::*;

    fn spec(noise_a: f64, lag_s: f64, change_s: f64) -> SurveySpec {
        let item = SurveyItem {
            full_a: 0.78,
            sensors: vec![0],
        };
        SurveySpec {
            items: vec![item; 40],
            sensors: vec![SurveySensor {
                noise_a,
                lag_s: lag_s / SETTLED,
                ..SurveySensor::default()
            }],
            change_s,
            ..SurveySpec::default()
        }
    }

    #[test]
    fn where_a_change_costs_nothing_the_next_pattern_comes_at_once() {
        for noise_a in [0.0, 0.125, 1.0] {
            assert!((hold_s(&spec(noise_a, 0.0, 0.0)) - LEAST_HOLD_S).abs() < 1e-9);
        }
    }

    #[test]
    fn where_a_change_costs_time_more_readings_are_taken_of_a_noisy_sensor() {
        // By the calculus: (v / n + o)(c + n t) is least at n = √(v c / (o t)): with v = (1 / 0.78)²,
        // o = 0.16, c = 0.5 s and t = 0.1 s that is 7.2.
        let held_s = hold_s(&spec(1.0, 0.4, 0.1));
        let readings = (held_s - 0.4) / 0.1;
        assert!((5.5..8.5).contains(&readings), "{readings}");
        // One of little noise is read once and no more.
        let held_s = hold_s(&spec(0.05, 0.4, 0.1));
        assert!((held_s - 0.5).abs() < 1e-9, "{held_s}");
    }

    #[test]
    fn what_is_told_late_needs_no_waiting() {
        let mut told_late = spec(1.0, 0.4, 0.1);
        told_late.sensors[0].stays_s = 0.3;
        // As a sensor that settles within 0.1 s, which loses no more to a change of light.
        let held_s = hold_s(&told_late);
        assert!(
            (held_s - hold_s(&spec(1.0, 0.1, 0.1))).abs() < 0.15,
            "{held_s}"
        );
        assert!(held_s + 0.1 < hold_s(&spec(1.0, 0.4, 0.1)), "{held_s}");
    }

    #[test]
    fn it_is_never_shorter_than_it_takes_to_settle() {
        for lag_s in [0.0, 0.1, 0.3, 2.0] {
            for noise_a in [0.01, 1.0, 30.0] {
                assert!(
                    hold_s(&spec(noise_a, lag_s, 0.1)) + 1e-9 >= (lag_s + 0.1).max(LEAST_HOLD_S)
                );
            }
        }
    }
}
