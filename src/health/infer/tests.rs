//! Small floors whose answer is known, both forms of evidence against each other, and invariants.

use proptest::prelude::*;

use super::*;

/// A sequence of numbers that look random (Marsaglia's 64-bit xorshift, 2003).
struct Dice(u64);

impl Dice {
    fn bits(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn coin(&mut self) -> bool {
        self.bits() >> 40 & 1 == 1
    }

    fn even(&mut self) -> f64 {
        f64::from(u32::try_from(self.bits() >> 32).unwrap()) / f64::from(u32::MAX)
    }

    /// About Gaussian: the sum of twelve even numbers.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }
}

fn layout(items: u32, sensors: Vec<Vec<u32>>) -> Layout {
    let sensors = sensors.into_iter().map(|sees| SensorLayout {
        sees,
        gain_sd: 0.01,
        offset_sd_a: 0.3,
    });
    Layout {
        full_a: vec![0.8; items as usize],
        sensors: sensors.collect(),
        tolerance: 0.03,
    }
}

/// What every sensor reads in so many random pictures, as (sensor, computed, reading).
fn readings(
    layout: &Layout,
    share: impl Fn(usize) -> f64,
    always_a: impl Fn(usize) -> f64,
    noise_a: f64,
    pictures: usize,
    dice: &mut Dice,
) -> Vec<(usize, Vec<f64>, f64)> {
    let own: Vec<f64> = layout
        .full_a
        .iter()
        .map(|_| 1.0 + 0.03 * dice.normal())
        .collect();
    let offsets: Vec<f64> = layout.sensors.iter().map(|_| 0.1 * dice.normal()).collect();
    let mut all = Vec::new();
    for _ in 0..pictures {
        let lit: Vec<f64> = layout
            .full_a
            .iter()
            .map(|full| if dice.coin() { *full } else { 0.0 })
            .collect();
        for (number, sensor) in layout.sensors.iter().enumerate() {
            let draws = sensor.sees.iter().map(|&item| item as usize);
            let sum: f64 = draws
                .map(|item| lit[item] * own[item] * share(item) + always_a(item))
                .sum();
            all.push((
                number,
                lit.clone(),
                1.008 * sum + offsets[number] + noise_a * dice.normal(),
            ));
        }
    }
    all
}

fn gathered(
    layout: &Layout,
    readings: &[(usize, Vec<f64>, f64)],
    noise_a: f64,
) -> (Evidence, Running) {
    let (mut evidence, mut running) = (Evidence::new(layout), Running::new(layout));
    for (sensor, computed, reading) in readings {
        evidence.add(*sensor, computed, *reading, noise_a * noise_a);
        running.add(*sensor, computed, *reading, noise_a * noise_a);
    }
    (evidence, running)
}

fn near(one: &Decision, other: &Decision) {
    assert!((one.misfit - other.misfit).abs() < 1e-6);
    for (a, b) in one.chances.iter().zip(&other.chances) {
        let (a, b) = (a.unwrap(), b.unwrap());
        for (a, b) in [(a.good, b.good), (a.dead, b.dead), (a.weight, b.weight)] {
            assert!((a - b).abs() < 1e-6 * (1.0 + a.abs()), "{a} {b}");
        }
    }
}

#[test]
fn two_dead_of_forty_are_found_and_nothing_else_by_both_forms() {
    let layout = layout(40, vec![(0..40).collect()]);
    let share = |item| if item == 7 || item == 23 { 0.0 } else { 1.0 };
    let mut dice = Dice(11);
    let read = readings(&layout, share, |_| 0.0, 0.2, 120, &mut dice);
    let (mut evidence, mut running) = gathered(&layout, &read, 0.2);
    let decision = evidence.decide(&Priors::default());
    near(&decision, &running.decide(&Priors::default(), true));
    for (item, judged) in decision.judged().iter().enumerate() {
        let is = if share(item) == 0.0 {
            Condition::Dead
        } else {
            Condition::Good
        };
        assert_eq!(judged.condition, is, "{item}");
        assert!(judged.doubt < 0.05, "{item} {}", judged.doubt);
    }
    assert!((0.5..1.5).contains(&decision.misfit), "{}", decision.misfit);
}

#[test]
fn a_weak_one_is_called_weak_with_its_share() {
    let layout = layout(20, vec![(0..20).collect()]);
    let share = |item| if item == 3 { 0.6 } else { 1.0 };
    let read = readings(&layout, share, |_| 0.0, 0.05, 200, &mut Dice(5));
    let (mut evidence, _) = gathered(&layout, &read, 0.05);
    let judged = evidence.decide(&Priors::default()).judged();
    let Condition::Weak(share) = judged[3].condition else {
        panic!("{:?}", judged[3]);
    };
    assert!((share - 0.6).abs() < 0.06, "{share}");
    assert!(
        judged
            .iter()
            .enumerate()
            .all(|(at, one)| at == 3 || one.condition == Condition::Good)
    );
}

#[test]
fn one_that_always_draws_is_called_stuck_if_the_offset_is_known_well() {
    let mut layout = layout(
        20,
        vec![(0..10).collect(), (10..20).collect(), (0..20).collect()],
    );
    let share = |item| if item == 3 || item == 14 { 0.0 } else { 1.0 };
    let always = |item| if item == 3 { 0.7 } else { 0.0 };
    let read = readings(&layout, share, always, 0.05, 100, &mut Dice(8));
    for sensor in &mut layout.sensors {
        sensor.offset_sd_a = 0.1;
    }
    let (mut evidence, _) = gathered(&layout, &read, 0.05);
    let judged = evidence.decide(&Priors::default()).judged();
    let Condition::Stuck(share) = judged[3].condition else {
        panic!("{:?}", judged[3]);
    };
    assert!((share - 0.7 / 0.8).abs() < 0.25, "{share}");
    assert_eq!(judged[14].condition, Condition::Dead);
}

#[test]
fn what_is_always_lit_together_shares_the_doubt() {
    // Items 0 to 2 are one: one of them is dead, and nothing tells which.
    let layout = layout(9, vec![(0..9).collect()]);
    let mut dice = Dice(3);
    let mut evidence = Evidence::new(&layout);
    for _ in 0..200 {
        let one = dice.coin();
        let lit: Vec<f64> = (0..9)
            .map(|at| {
                if at < 3 && one || at >= 3 && dice.coin() {
                    0.8
                } else {
                    0.0
                }
            })
            .collect();
        let dead = lit[1];
        evidence.add(
            0,
            &lit,
            lit.iter().sum::<f64>() - dead + 0.05 * dice.normal(),
            0.0025,
        );
    }
    let decision = evidence.decide(&Priors::default());
    for item in 0..3 {
        let chance = decision.chances[item].unwrap();
        assert!((chance.dead - 1.0 / 3.0).abs() < 0.05, "{chance:?}");
    }
    assert!(decision.judged()[5].doubt < 1e-3);
}

#[test]
fn items_of_other_sensors_do_not_slow_each_other_and_what_nobody_sees_is_unknown() {
    let layout = layout(30, vec![(0..10).collect(), (10..20).collect(), vec![]]);
    let read = readings(
        &layout,
        |item| if item == 12 { 0.0 } else { 1.0 },
        |_| 0.0,
        0.1,
        60,
        &mut Dice(4),
    );
    let (mut evidence, mut running) = gathered(&layout, &read, 0.1);
    for decision in [
        evidence.decide(&Priors::default()),
        running.decide(&Priors::default(), true),
    ] {
        let judged = decision.judged();
        assert_eq!(judged[12].condition, Condition::Dead);
        assert!(
            judged[..12]
                .iter()
                .chain(&judged[13..20])
                .all(|one| one.condition == Condition::Good)
        );
        assert!(judged[20..].iter().all(|one| *one == UNKNOWN));
    }
}

#[test]
fn readings_that_fit_nothing_make_everything_doubtful() {
    let layout = layout(12, vec![(0..12).collect()]);
    let mut dice = Dice(9);
    let mut read = readings(&layout, |_| 1.0, |_| 0.0, 0.05, 100, &mut dice);
    let sure = gathered(&layout, &read, 0.05).0.decide(&Priors::default());
    // Something else draws as it likes on the same wire.
    for (.., reading) in &mut read {
        *reading += 3.0 * dice.normal();
    }
    let told = gathered(&layout, &read, 0.05).0.decide(&Priors::default());
    assert!(
        sure.misfit < 1.5 && told.misfit > 100.0,
        "{} {}",
        sure.misfit,
        told.misfit
    );
    for chance in told.chances.iter().flatten() {
        assert!(chance.good > 0.5 && chance.dead > 1e-3, "{chance:?}");
    }
}

/// Two panels of four, each always lit as one: that one of the first is dead is sure, which of them is not.
#[test]
fn of_what_is_always_lit_together_it_is_sure_that_not_all_is_good() {
    let layout = layout(8, vec![(0..8).collect()]);
    let mut evidence = Evidence::new(&layout);
    let mut dice = Dice(5);
    for _ in 0..300 {
        let levels = [dice.even(), dice.even()];
        let computed: Vec<f64> = (0..8).map(|item| 0.8 * levels[item / 4]).collect();
        let reading = 0.8 * (3.0 * levels[0] + 4.0 * levels[1]) + 0.1 * dice.normal();
        evidence.add(0, &computed, reading, 0.01);
    }
    let nothing = Evidence::new(&layout);
    let kinds = [1, 1, 1, 1, 2, 2, 2, 2];
    let told = evidence.weigh(&nothing, 0, &Priors::default(), &kinds);
    let told = told.unwrap();
    let [short] = &told.short[..] else {
        panic!("{:?}", told.short);
    };
    assert_eq!(short.kind, 1);
    assert!(short.good < 1e-9, "{}", short.good);
    assert!((short.lack_a - 0.8).abs() < 0.1, "{}", short.lack_a);
    for item in 0..4 {
        let chance = told.decision.chances[item].unwrap();
        assert!((0.2..0.9).contains(&chance.good), "{item}: {chance:?}");
    }
}

#[test]
fn what_is_forgotten_counts_less() {
    let layout = layout(12, vec![(0..12).collect()]);
    let read = readings(
        &layout,
        |item| if item == 2 { 0.0 } else { 1.0 },
        |_| 0.0,
        0.1,
        100,
        &mut Dice(6),
    );
    let (mut evidence, _) = gathered(&layout, &read, 0.1);
    let mut doubt = evidence.decide(&Priors::default()).chances[2].unwrap().good;
    for _ in 0..3 {
        evidence.forget(0.1);
        let now = evidence.decide(&Priors::default()).chances[2].unwrap().good;
        assert!(now >= doubt, "{now} {doubt}");
        doubt = now;
    }
    assert!(doubt > 0.5);
}

#[test]
fn nonsense_teaches_nothing() {
    let layout = layout(3, vec![vec![0, 1, 2]]);
    let mut evidence = Evidence::new(&layout);
    for (sensor, reading, variance) in [
        (0, f64::NAN, 1.0),
        (0, 1.0, 0.0),
        (0, 1.0, f64::NAN),
        (7, 1.0, 1.0),
    ] {
        evidence.add(sensor, &[1.0; 3], reading, variance);
    }
    let decision = evidence.decide(&Priors::default());
    assert!(decision.judged().iter().all(|one| *one == UNKNOWN));
}

proptest! {
    #[test]
    fn chances_are_chances(seed in 1_u64.., items in 1_u32..14, pictures in 0_usize..40) {
        let layout = layout(items, vec![(0..items).collect(), (0..items / 2).collect()]);
        let mut dice = Dice(seed);
        let shares: Vec<f64> = (0..items)
            .map(|_| match dice.bits() >> 40 & 3 {
                0 => 0.0,
                1 => dice.even(),
                _ => 1.0,
            })
            .collect();
        let read = readings(&layout, |item| shares[item], |_| 0.0, 0.3, pictures, &mut dice);
        let (mut evidence, mut running) = gathered(&layout, &read, 0.3);
        for decision in [evidence.decide(&Priors::default()), running.decide(&Priors::default(), true)] {
            prop_assert_eq!(decision.chances.len(), items as usize);
            for chance in decision.chances.iter().flatten() {
                prop_assert!((chance.good + chance.dead + chance.weak - 1.0).abs() < 1e-9);
                for part in [chance.good, chance.dead, chance.weak, chance.share] {
                    prop_assert!((0.0..=1.0).contains(&part), "{:?}", chance);
                }
            }
            for judged in decision.judged() {
                prop_assert!((0.0..=1.0).contains(&judged.doubt));
                if judged.condition == Condition::Unknown {
                    prop_assert_eq!(judged, UNKNOWN);
                }
            }
        }
    }

    #[test]
    fn an_inverse_is_one(seed in 1_u64.., side in 1_usize..20) {
        let mut dice = Dice(seed);
        let mut matrix = matrix::Square::zero(side);
        for _ in 0..side + 3 {
            let row: Vec<f64> = (0..side).map(|_| dice.normal()).collect();
            for at in 0..side {
                matrix::add_scaled(matrix.row_mut(at), &row, row[at]);
            }
        }
        for at in 0..side {
            matrix.row_mut(at)[at] += 0.1;
        }
        let inverse = matrix.inverse().unwrap();
        let right: Vec<f64> = (0..side).map(|_| dice.normal()).collect();
        let solved = matrix.solve(&right).unwrap();
        for (at, value) in solved.iter().enumerate() {
            let product = matrix.times(inverse.row(at));
            for (column, value) in product.iter().enumerate() {
                prop_assert!((value - f64::from(u8::from(column == at))).abs() < 1e-7);
            }
            prop_assert!((value - inverse.times(&right)[at]).abs() < 1e-7);
        }
    }
}
