use super::*;

/// Readings of a current that does not change, every 100 ms.
fn readings(errors: Errors, true_a: f64, count: u64) -> Vec<f64> {
    let mut sensor = SimSensor::with(7, 100, errors);
    let at = |number: u64| Time::from_ms(100 * number);
    (0..count)
        .filter_map(|number| sensor.read(true_a, at(number)))
        .collect()
}

const EXACT: Errors = Errors {
    wavers: 0.0,
    noise_a: 0.0,
    gain: 0.0,
    offset_a: 0.0,
    drift_a: 0.0,
    step_a: 0.0,
    most_a: f64::INFINITY,
    late_ms: 0,
};

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / crate::units::count(values.len())
}

fn sd(values: &[f64]) -> f64 {
    let middle = mean(values);
    let squares: Vec<f64> = values.iter().map(|it| (it - middle).powi(2)).collect();
    mean(&squares).sqrt()
}

fn near(a: f64, b: f64, bound: f64) {
    assert!((a - b).abs() < bound, "{a} is not {b} ± {bound}");
}

/// A mean of n readings has a standard error of σ/√n, a standard deviation one of σ/√(2n); each
/// is held to four of them. Of a normal distribution 31.73 % lie beyond 1 σ, 4.550 % beyond 2 σ and
/// 0.270 % beyond 3 σ (any table of it).
#[test]
fn noise_is_normal_with_its_standard_deviation() {
    let (sigma, n) = (0.125, 40_000_u32);
    let errors = Errors {
        noise_a: sigma,
        ..EXACT
    };
    let said = readings(errors, 20.0, n.into());
    let root = f64::from(n).sqrt();
    near(mean(&said), 20.0, 4.0 * sigma / root);
    near(sd(&said), sigma, 4.0 * sigma / root / 2.0_f64.sqrt());
    for (beyond, share) in [(1.0, 0.3173_f64), (2.0, 0.0455), (3.0, 0.0027)] {
        let far = said.iter().filter(|it| (*it - 20.0).abs() > beyond * sigma);
        let found = crate::units::count(far.count()) / f64::from(n);
        near(found, share, 4.0 * (share * (1.0 - share)).sqrt() / root);
    }
    // One reading says nothing of the next: their correlation has a standard error of 1/√n.
    let pairs: Vec<f64> = (said.windows(2))
        .map(|pair| (pair[0] - 20.0) * (pair[1] - 20.0))
        .collect();
    near(mean(&pairs) / sigma.powi(2), 0.0, 4.0 / root);
}

#[test]
fn gain_offset_resolution_and_range_are_as_they_are_said() {
    let errors = Errors {
        gain: 0.01,
        offset_a: -0.2,
        step_a: 0.05,
        most_a: 25.0,
        ..EXACT
    };
    // 10 A × 1.01 − 0.2 = 9.9; 3.17 × 1.01 − 0.2 = 3.0017, to 3.00; 0 to −0.2; 30 to 25.
    for (true_a, expected) in [(10.0, 9.9), (3.17, 3.0), (0.0, -0.2), (30.0, 25.0)] {
        for said in readings(errors, true_a, 3) {
            near(said, expected, 1e-9);
        }
    }
}

/// Rounding to steps is off by a standard deviation of step/√12 (an even distribution).
#[test]
fn rounding_errs_evenly_over_its_step() {
    let mut sensor = SimSensor::with(
        1,
        0,
        Errors {
            step_a: 0.05,
            ..EXACT
        },
    );
    let mut chance = Chance::new(3);
    let off = (0..20_000).map(|_| {
        let true_a = 10.0 * chance.share();
        sensor.read(true_a, Time(0)).unwrap() - true_a
    });
    let off: Vec<f64> = off.collect();
    // Four standard errors of the standard deviation of an even distribution: √(0.2/n).
    let even = 0.05 / 12.0_f64.sqrt();
    near(sd(&off), even, 4.0 * even * (0.2_f64 / 20_000.0).sqrt());
    near(mean(&off), 0.0, 4.0 * even / 20_000.0_f64.sqrt());
}

/// A random walk with a standard deviation of d after a second has one of d·√t after t.
#[test]
fn the_offset_walks_by_chance() {
    let walks = 4_000_u32;
    let ends = (0..walks).map(|seed| {
        let errors = Errors {
            drift_a: 0.02,
            ..EXACT
        };
        let mut sensor = SimSensor::with(u64::from(seed), 100, errors);
        let said = (0..=90).filter_map(|at| sensor.read(5.0, Time::from_ms(100 * at)));
        said.last().unwrap()
    });
    let ends: Vec<f64> = ends.collect();
    let expected = 0.02 * 9.0_f64.sqrt();
    let bound = 4.0 * expected / (2.0 * f64::from(walks)).sqrt();
    near(sd(&ends), expected, bound);
    near(mean(&ends), 5.0, 4.0 * expected / f64::from(walks).sqrt());
}

#[test]
fn what_is_late_says_what_flowed_then() {
    let errors = Errors {
        late_ms: 250,
        ..EXACT
    };
    let mut sensor = SimSensor::with(1, 100, errors);
    let flowed = |ms: u64| f64::from(u32::try_from(ms).unwrap());
    for ms in (0..2_000).step_by(50) {
        let said = sensor.read(flowed(ms), Time::from_ms(ms));
        // It is told every 50 ms, and reports every 100.
        let expected = (ms % 100 == 0).then(|| flowed(ms.saturating_sub(250)));
        assert_eq!(said, expected, "{ms} ms");
    }
}

#[test]
fn the_same_seed_says_the_same_and_faults_end() {
    let errors = Errors {
        noise_a: 0.1,
        drift_a: 0.01,
        ..EXACT
    };
    assert_eq!(readings(errors, 4.0, 50), readings(errors, 4.0, 50));
    let mut sensor = SimSensor::with(1, 100, errors);
    let before = sensor.read(4.0, Time(0)).unwrap();
    sensor.fails(Fault::Frozen, Time::from_ms(300));
    assert_eq!(sensor.read(9.0, Time::from_ms(100)), Some(before));
    sensor.fails(Fault::Silent, Time::from_ms(300));
    assert_eq!(sensor.read(9.0, Time::from_ms(200)), None);
    let after = sensor.read(9.0, Time::from_ms(300)).unwrap();
    assert!(after > 8.0 && !sensor.failing(), "{after}");
}
