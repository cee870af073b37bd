//! A sensor that can't be believed changes nothing, and none raises a limit.

use proptest::prelude::*;

use super::*;
use crate::units::Time;

const SPEC: Spec = Spec {
    most: 10.0,
    tolerance: 0.05,
    every_s: 1.0,
};

const LIMIT_A: f64 = 8.0;

/// A sensor of a place that is computed to draw what `expected` says at each second, and that says
/// `measured`.
fn seen(seconds: u64, expected: impl Fn(u64) -> f64, measured: impl Fn(u64) -> f64) -> Watch {
    let mut watch = Watch::new(SPEC, Time::from_s(0));
    for s in 1..=seconds {
        step(&mut watch, s, expected(s), measured(s));
    }
    watch
}

fn step(watch: &mut Watch, s: u64, expected: f64, measured: f64) {
    for tenth in 0..10 {
        watch.expect(Time::from_ms(s * 1_000 + tenth * 100), expected);
    }
    watch.read(Time::from_ms(s * 1_000 + 950), measured, Some(LIMIT_A));
}

fn at(s: u64) -> Time {
    Time::from_ms(s * 1_000 + 990)
}

/// A little noise, never the same twice.
#[expect(clippy::cast_precision_loss, reason = "seconds of a test")]
fn about(a: f64) -> impl Fn(u64) -> f64 {
    move |s| a + 0.001 * s as f64
}

#[test]
fn a_sensor_waits_then_is_good_then_silent_after_three_periods() {
    let watch = Watch::new(SPEC, Time::from_s(0));
    assert_eq!(watch.verdict(Time::from_ms(3_000)), Verdict::Waiting);
    assert_eq!(watch.verdict(Time::from_ms(3_001)), Verdict::Silent);
    let watch = seen(20, |_| 4.0, about(4.0));
    assert_eq!(watch.verdict(at(20)), Verdict::Good);
    assert_eq!(watch.verdict(Time::from_ms(23_950)), Verdict::Good);
    assert_eq!(watch.verdict(Time::from_ms(23_951)), Verdict::Silent);
}

#[test]
fn one_that_stands_still_while_the_light_moves_is_frozen() {
    let moving = |s: u64| if s % 8 < 4 { 2.0 } else { 6.0 };
    assert_eq!(
        seen(20, moving, |_| 4.0).verdict(at(20)),
        Verdict::Frozen,
        "moving light"
    );
    assert_eq!(seen(20, |_| 4.0, |_| 4.0).verdict(at(20)), Verdict::Good);
    // A frozen one is never taken for one that measures more.
    let watch = seen(40, moving, |_| 7.0);
    assert_eq!(watch.verdict(at(40)), Verdict::Frozen);
}

#[test]
fn whether_it_wavers_is_asked_of_the_dark_alone() {
    let flashing = |s: u64| if s % 8 < 4 { 0.1 } else { 6.0 };
    let wavers = |measured: &dyn Fn(u64) -> f64| seen(40, flashing, measured).wavers();
    // A feed of which nothing is left; one that wavers in the light alone; one that always does.
    assert!(wavers(&|_| 0.1) < 1e-9);
    let lit = |s: u64| if s % 8 < 4 { 0.1 } else { about(6.0)(s) };
    assert!(wavers(&lit) < 1e-9);
    assert!(wavers(&about(0.1)) > 0.999);
    // Half of its readings are the same as the one before.
    let half = |s: u64| about(0.1)(s / 2);
    assert!((0.25..0.75).contains(&wavers(&half)), "{}", wavers(&half));
    // What it did in brighter light is forgotten as soon as it is darker than ever.
    let falling = |s: u64| if s < 20 { 1.0 } else { 0.1 };
    let steady_at_last = |s: u64| if s < 20 { about(1.0)(s) } else { 0.1 };
    assert!(seen(40, falling, steady_at_last).wavers() < 1e-9);
    assert!(Watch::new(SPEC, Time::from_s(0)).wavers() < 1e-9);
}

#[test]
fn absurd_numbers_are_called_that() {
    for absurd in [f64::NAN, f64::INFINITY, -1.0, 21.0, 1e9] {
        let watch = seen(20, |_| 4.0, |s| if s < 20 { 4.0 } else { absurd });
        assert_eq!(watch.verdict(at(20)), Verdict::Absurd, "{absurd}");
        assert_eq!(watch.live_limit(None, LIMIT_A, 0.1), None, "{absurd}");
    }
    // Noise about zero, and a load that is twice what is possible, are not.
    let watch = seen(20, |_| 0.0, |s| if s < 20 { 0.0 } else { -0.05 });
    assert_eq!(watch.verdict(at(20)), Verdict::Good);
}

#[test]
fn measured_apart_for_three_seconds_makes_the_place_stricter_until_both_agree_for_ten() {
    // 20 % more than computed: 8 A × 1/1.2 = 6.667 A may be computed.
    let mut watch = seen(3, |_| 5.0, about(6.0));
    assert_eq!(watch.verdict(at(3)), Verdict::Good, "two seconds");
    step(&mut watch, 4, 5.0, 6.0);
    assert_eq!(watch.verdict(at(4)), Verdict::Apart(Side::Above));
    let live = watch.live_limit(None, LIMIT_A, 0.1).unwrap();
    assert!((live - LIMIT_A / 1.2).abs() < 0.01, "{live}");
    // Dark, both agree, which says nothing of full light; nor does silence.
    for s in 5..60 {
        step(&mut watch, s, 0.1, about(0.1)(s));
    }
    assert_eq!(watch.live_limit(None, LIMIT_A, 0.1), Some(live));
    assert_eq!(watch.verdict(Time::from_s(90)), Verdict::Silent);
    assert_eq!(watch.live_limit(None, LIMIT_A, 0.1), Some(live));
    for s in 100..111 {
        step(&mut watch, s, 5.0, about(5.0)(s));
    }
    assert_eq!(watch.verdict(at(110)), Verdict::Apart(Side::Above));
    for s in 111..=112 {
        step(&mut watch, s, 5.0, about(5.0)(s));
    }
    assert_eq!(watch.verdict(at(112)), Verdict::Good);
    assert_eq!(watch.live_limit(None, LIMIT_A, 0.1), None);
}

#[test]
fn less_than_computed_is_told_and_changes_no_limit() {
    let watch = seen(10, |_| 5.0, about(4.0));
    assert_eq!(watch.verdict(at(10)), Verdict::Apart(Side::Below));
    assert_eq!(watch.live_limit(None, LIMIT_A, 0.1), None);
}

#[test]
fn a_lag_of_a_second_is_no_difference() {
    let blinking = |s: u64| if s.is_multiple_of(2) { 1.0 } else { 7.0 };
    let watch = seen(40, blinking, |s| blinking(s - 1) + about(0.0)(s));
    assert_eq!(watch.verdict(at(40)), Verdict::Good);
}

#[test]
fn something_that_draws_beside_dark_pixels_is_taken_off_the_limit() {
    let watch = seen(10, |_| 0.1, about(2.1));
    let live = watch.live_limit(None, LIMIT_A, 0.1).unwrap();
    assert!((live - (LIMIT_A - 2.0)).abs() < 0.02, "{live}");
}

fn computed(idle_a: f64, colours_a: [f64; 4]) -> Computed {
    Computed { idle_a, colours_a }
}

/// All dark, then red, green, blue and all three at half and at full.
fn run(place: impl Fn(&Computed) -> f64) -> Vec<Sample> {
    let full = [3.0, 2.0, 2.5];
    let mut levels = vec![[0.0; 3]];
    for step in [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0; 3]] {
        levels.extend([0.5, 1.0].map(|level| step.map(|on: f64| on * level)));
    }
    let samples = levels.into_iter().map(|level| {
        let at = |colour: usize| level[colour] * full[colour];
        let computed = computed(0.2, [at(0), at(1), at(2), 0.0]);
        Sample {
            measured_a: place(&computed),
            computed,
        }
    });
    samples.collect()
}

fn straight(idle_a: f64, gains: [f64; 3]) -> impl Fn(&Computed) -> f64 {
    move |computed| {
        let lit = computed.colours_a.iter().zip(gains);
        idle_a + lit.map(|(a, gain)| a * gain).sum::<f64>()
    }
}

#[test]
fn a_run_teaches_idle_and_gains() {
    let fit = calibration::fit(&run(straight(0.35, [1.05, 0.97, 1.1])), 0.05, 0.02).unwrap();
    assert!((fit.idle_a - 0.35).abs() < 1e-9, "{fit:?}");
    for (gain, expected) in fit.gains.iter().zip([1.05, 0.97, 1.1]) {
        assert!((gain.unwrap() - expected).abs() < 1e-9, "{fit:?}");
    }
    assert_eq!((fit.gains[3], fit.residual_a < 1e-9), (None, true));
    // By hand: of 8 A, 0.35 are idle; what is left may be computed to draw 7.65 / 1.1 and its idle.
    let by_hand = 0.2 + 7.65 / 1.1;
    assert!((fit.computed_limit_a(8.0, 0.2) - by_hand).abs() < 1e-9);
}

/// By hand, for points that lie on no line: x = 0, 1, 2, 3 and y = 1, 3, 2, 5 have the line of least
/// squares y = 1.1 + 1.1 x (Σxy − n·x̄·ȳ = 22 − 16.5 over Σx² − n·x̄² = 14 − 9).
#[test]
fn points_that_lie_on_no_line_have_the_line_by_hand() {
    let samples: Vec<Sample> = [(0.0, 1.0), (1.0, 3.0), (2.0, 2.0), (3.0, 5.0)]
        .into_iter()
        .map(|(x, measured_a)| Sample {
            computed: computed(0.0, [x, 0.0, 0.0, 0.0]),
            measured_a,
        })
        .collect();
    let fit = calibration::fit(&samples, 0.5, 0.0).unwrap();
    assert!((fit.idle_a - 1.1).abs() < 1e-12 && (fit.gains[0].unwrap() - 1.1).abs() < 1e-12);
    // Measured less fitted: −0.1, 0.8, −1.3, 0.6.
    assert!((fit.residual_a - 1.3).abs() < 1e-12 && (fit.above_a - 0.8).abs() < 1e-12);
    let refused = calibration::fit(&samples, 0.05, 0.0);
    assert!(
        matches!(refused, Err(Unfit::Residual { .. })),
        "{refused:?}"
    );
}

#[test]
fn runs_that_teach_nothing_are_refused_with_the_reason() {
    let fitted = |samples: &[Sample]| calibration::fit(samples, 0.05, 0.02);
    let still = fitted(&run(|_| 3.0));
    assert!(
        matches!(still, Err(Unfit::DoesNotFollow { .. })),
        "{still:?}"
    );
    let milli = fitted(&run(|computed| computed.total_a() * 1_000.0));
    assert!(matches!(milli, Err(Unfit::Gain(_))), "{milli:?}");
    let below = fitted(&run(straight(-2.0, [1.0; 3])));
    assert!(matches!(below, Err(Unfit::Idle(_))), "{below:?}");
    let dark = fitted(&run(|_| 0.2)[..1]);
    assert_eq!(dark, Err(Unfit::Undetermined));
    let white: Vec<Sample> = run(straight(0.2, [1.0; 3])).split_off(7);
    assert_eq!(
        fitted(&white),
        Err(Unfit::Undetermined),
        "colours only together"
    );
    let nan = fitted(&run(|_| f64::NAN));
    assert!(nan.is_err(), "{nan:?}");
}

proptest! {
    /// Whatever is computed within the limit that a run taught, the place as fitted keeps its own.
    #[test]
    fn within_the_taught_limit_the_real_one_is_kept(
        idle_a in 0.0..1.0_f64, gains in [0.5..1.9_f64, 0.5..1.9, 0.5..1.9],
        mix in [0.0..1.0_f64, 0.0..1.0, 0.0..1.0], limit_a in 1.5..50.0_f64,
    ) {
        let fit = calibration::fit(&run(straight(idle_a, gains)), 0.05, 0.02).unwrap();
        let within_a = fit.computed_limit_a(limit_a, 0.2) - 0.2;
        let share = within_a.max(0.0) / mix.iter().sum::<f64>().max(1e-3);
        let real = straight(idle_a, gains)(&computed(0.2, [
            mix[0] * share, mix[1] * share, mix[2] * share, 0.0,
        ]));
        prop_assert!(real <= limit_a.max(idle_a) + 1e-6, "{real} {limit_a} {fit:?}");
    }

    /// No sensor raises a limit, and only one that is believed ever ends what it began.
    #[test]
    fn no_sequence_of_readings_raises_a_limit(
        readings in proptest::collection::vec((0.0..9.0_f64, prop_oneof![
            3 => (0.5..2.0_f64).prop_map(Some),
            1 => Just(None),
        ], prop_oneof![6 => Just(1.0), 1 => Just(f64::NAN), 1 => Just(-9.0), 1 => Just(1e6)]), 1..80),
    ) {
        let mut watch = Watch::new(SPEC, Time::from_s(0));
        let mut before: Option<f64> = None;
        for (s, (expected, gain, spoil)) in (1..).zip(readings) {
            match gain {
                Some(gain) => step(&mut watch, s, expected, expected * gain * spoil),
                None => watch.expect(Time::from_ms(s * 1_000), expected),
            }
            let live = watch.live_limit(None, LIMIT_A, 0.1);
            prop_assert!(live.is_none_or(|live| (0.0..LIMIT_A).contains(&live)));
            let raised = live.unwrap_or(LIMIT_A) > before.unwrap_or(LIMIT_A);
            let believed = watch.verdict(at(s)) == Verdict::Good;
            prop_assert!(!raised || believed, "{before:?} {live:?} {:?}", watch.verdict(at(s)));
            before = live;
        }
    }
}
