//! A few sensors, a few panels: what is told, and what never may be.

use proptest::prelude::*;

use super::looked::Looked;
use super::*;
use crate::health::show::spec::{ShowItem, ShowSensor};

/// Two panels of two segments on one sensor.
fn spec() -> ShowSpec {
    let item = |at: u32| ShowItem {
        panel: at / 2,
        segment: at % 2,
        full_a: 1.0,
        sensors: vec![0],
    };
    ShowSpec {
        items: (0..4).map(item).collect(),
        sensors: vec![ShowSensor {
            noise_a: 0.1,
            offset_sd_a: 0.2,
            ..ShowSensor::default()
        }],
        ..ShowSpec::default()
    }
}

fn groups() -> Vec<Group> {
    let group = |panel, takes: &[u32]| Group {
        panel,
        takes: takes.to_vec(),
        holds: false,
    };
    vec![
        group(0, &[0, 1]),
        group(0, &[1]),
        group(1, &[2, 3]),
        group(1, &[3]),
    ]
}

/// What looks like noise and is the same each time: evenly distributed, with a deviation of 1.
fn noise(tenth: u32) -> f64 {
    let mixed = (tenth ^ 0x5bd1).wrapping_mul(0x9e37_79b1);
    let mixed = (mixed ^ (mixed >> 15)).wrapping_mul(0x85eb_ca77);
    let mixed = mixed ^ (mixed >> 13);
    (f64::from(mixed) / f64::from(u32::MAX) - 0.5) * 12.0_f64.sqrt()
}

/// Each item lit in its own time; what `is_out` says at that tenth of a second draws nothing.
fn run(tenths: std::ops::Range<u32>, steps: &mut Steps, is_out: impl Fn(usize, u32) -> bool) {
    for tenth in tenths {
        let s = f64::from(tenth) / 10.0;
        let computed: Vec<f64> = [3.0, 4.1, 5.3, 6.7]
            .iter()
            .map(|every_s| 0.5 + 0.5 * (s / every_s * std::f64::consts::TAU).sin())
            .collect();
        let drawn = computed.iter().enumerate();
        let drawn: f64 = drawn
            .filter(|(at, _)| !is_out(*at, tenth))
            .map(|(_, a)| a)
            .sum();
        let noise = 0.1 * noise(tenth);
        let heard = Heard {
            sensor: 0,
            at: Time::from_ms(u64::from(tenth) * 100),
            total_a: computed.iter().sum(),
            drawn_a: drawn + noise,
            variance: 0.01,
            skewed_a: 0.0,
        };
        steps.hear(&heard, &computed);
        if tenth % 10 == 9 {
            steps.decide(heard.at, |_, _| false);
        }
    }
}

#[test]
fn a_joint_that_opens_is_named_and_one_that_closes_is_taken_back() {
    let mut steps = Steps::new(&spec(), &groups(), RULES);
    let out = |at: usize, tenth: u32| at == 3 && (205..450).contains(&tenth);
    run(0..200, &mut steps, out);
    assert_eq!(steps.told(), &Told::default());
    run(200..300, &mut steps, out);
    let [opened] = &steps.told().opened[..] else {
        panic!("{:?}", steps.told());
    };
    assert_eq!((opened.panel, &opened.items[..]), (1, &[3][..]));
    assert_eq!(opened.groups, [3]);
    assert!(opened.chance >= RULES.named, "{opened:?}");
    let late_s = opened.at.s_since(Time::from_ms(20_500));
    assert!(late_s < 1.0, "{opened:?}");
    run(300..500, &mut steps, out);
    assert_eq!(steps.told().opened, []);
}

#[test]
fn a_second_joint_is_found_behind_the_first() {
    let mut steps = Steps::new(&spec(), &groups(), RULES);
    let out = |at: usize, tenth: u32| at == 1 && tenth >= 205 || at >= 2 && tenth >= 225;
    run(0..360, &mut steps, out);
    let mut items: Vec<u32> = steps
        .told()
        .opened
        .iter()
        .flat_map(|one| one.items.clone())
        .collect();
    items.sort_unstable();
    assert_eq!(items, [1, 2, 3], "{:?}", steps.told());
}

#[test]
fn a_sensor_that_jumps_is_not_a_joint() {
    let mut steps = Steps::new(&spec(), &groups(), RULES);
    run(0..200, &mut steps, |_, _| false);
    let mut jumps = 0;
    for tenth in 200..320_u32 {
        let s = f64::from(tenth) / 10.0;
        let computed: Vec<f64> = [3.0, 4.1, 5.3, 6.7]
            .iter()
            .map(|every_s| 0.5 + 0.5 * (s / every_s * std::f64::consts::TAU).sin())
            .collect();
        let noise = 0.1 * noise(tenth);
        let heard = Heard {
            sensor: 0,
            at: Time::from_ms(u64::from(tenth) * 100),
            total_a: computed.iter().sum(),
            drawn_a: computed.iter().sum::<f64>() + noise - 0.6,
            variance: 0.01,
            skewed_a: 0.0,
        };
        steps.hear(&heard, &computed);
        if tenth % 10 == 9 {
            let told = steps.decide(heard.at, |_, _| false);
            assert!(told.opened.is_empty() && told.panels.is_empty(), "{told:?}");
            jumps += told.sensors.len();
        }
    }
    assert_eq!(jumps, 1);
}

#[test]
fn what_is_repaired_is_told_no_more() {
    let mut steps = Steps::new(&spec(), &groups(), RULES);
    run(0..300, &mut steps, |at, tenth| at == 3 && tenth >= 205);
    assert_eq!(steps.told().opened.len(), 1);
    steps.repaired(&[3]);
    assert_eq!(steps.told().opened, []);
}

#[test]
fn nonsense_teaches_nothing() {
    let mut steps = Steps::new(&spec(), &groups(), RULES);
    let heard = |drawn_a, variance, sensor| Heard {
        sensor,
        at: Time::from_s(1),
        total_a: 0.0,
        drawn_a,
        variance,
        skewed_a: 0.0,
    };
    for bad in [
        heard(f64::NAN, 1.0, 0),
        heard(1.0, 0.0, 0),
        heard(1.0, 1.0, 7),
    ] {
        assert_eq!(steps.hear(&bad, &[0.0; 4]), None);
    }
    assert!(steps.hear(&heard(0.0, 1.0, 0), &[0.0; 4]).is_some());
    assert_eq!(
        steps.hear(&heard(0.0, 1.0, 0), &[0.0; 4]),
        None,
        "the same time again"
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// The sums over readings are those of the dense matrices: a = sᵀΣ⁻¹r, b = sᵀΣ⁻¹s.
    #[test]
    fn sums_are_those_of_dense_matrices(
        above in proptest::collection::vec(-1.0..1.0_f64, 4..9),
        lit in proptest::collection::vec(0.0..1.0_f64, 9),
        begin in 0_usize..9,
    ) {
        use crate::health::infer::matrix::{Square, dot};
        use crate::health::show::baseline::{ItemBase, SensorBase};
        let item = ItemBase { share: 1.0, sd: 0.1 };
        let sensor = Baseline::unknown(&spec()).sensors[0];
        let sensor = SensorBase { gain_sd: 0.05, offset_sd_a: 0.3, ..sensor };
        let known = Known::new([item].iter(), &sensor, 0.0);
        let rows: Vec<Vec<f64>> = above.iter().zip(&lit).map(|(_, a)| Known::row(&[*a])).collect();
        let readings = rows.iter().zip(&above).enumerate();
        let readings = readings.map(|(at, (row, above))| (Time::from_s(at as u64), row.clone(), *above, 0.04));
        let looked = Looked::new(&known, readings.collect());
        // Looking ages what is known by the window's length at most from its last reading, here by nothing.
        let mut sigma = Square::zero(above.len());
        for (i, row) in rows.iter().enumerate() {
            for (j, other) in rows.iter().enumerate() {
                let spread = known.covariance.times(other);
                sigma.row_mut(i)[j] = dot(row, &spread) + if i == j { 0.04 } else { 0.0 };
            }
        }
        let begin = begin.min(above.len() - 1);
        let s: Vec<f64> = lit.iter().take(above.len()).map(|a| -a).collect();
        let late: Vec<f64> = s.iter().enumerate().map(|(at, s)| if at < begin { 0.0 } else { *s }).collect();
        let (a, b) = (looked.a(&s, &looked.left_a), looked.b(&s, &s));
        let solved = sigma.solve(&above).unwrap();
        prop_assert!((a[begin] - dot(&late, &solved)).abs() < 1e-8);
        prop_assert!((b[begin] - dot(&late, &sigma.solve(&late).unwrap())).abs() < 1e-8);
        // What is left once it is taken for true is what is left of readings without it.
        let fewer: Vec<f64> = above.iter().zip(&late).map(|(r, s)| r - s).collect();
        let without = looked.without(&s, begin, &looked.left_a);
        let again = looked.a(&s, &without);
        prop_assert!((again[begin] - dot(&late, &sigma.solve(&fewer).unwrap())).abs() < 1e-8);
    }
}
