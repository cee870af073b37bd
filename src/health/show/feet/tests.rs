use super::*;
use crate::health::show::spec::{ShowItem, ShowSensor};

/// Two panels of one segment on one sensor, lit in their own time.
fn feet() -> Feet {
    let item = |panel: u32| ShowItem {
        panel,
        segment: 0,
        full_a: 1.0,
        sensors: vec![0],
    };
    let spec = ShowSpec {
        items: (0..2).map(item).collect(),
        sensors: vec![ShowSensor::default()],
        switches: vec![2, 2],
        ..ShowSpec::default()
    };
    let group = |panel| Group {
        panel,
        takes: vec![panel],
        holds: false,
    };
    Feet::new(&spec, &[group(0), group(1)])
}

/// Somebody stands for a second on the first panel in every four, and somebody else on the second in
/// every six; `out` says what draws nothing, by who stands where.
fn walk(feet: &mut Feet, seconds: u32, out: impl Fn([bool; 2], u32) -> [bool; 2]) {
    let mut stood = [false; 2];
    for tenth in 0..seconds * 10 {
        let at = Time::from_ms(1_000_000 + u64::from(tenth) * 100);
        let stands = [tenth % 40 >= 30, tenth % 60 >= 45 && tenth % 60 < 55];
        for (panel, (was, is)) in (0..).zip(stood.iter().zip(&stands)) {
            if was != is {
                feet.pressed(panel, 1, *is, at);
            }
        }
        stood = stands;
        let s = f64::from(tenth) / 10.0;
        let computed = [3.1, 4.3].map(|every_s: f64| 0.5 + 0.4 * (s / every_s * 6.3).sin());
        let out = out(stands, tenth);
        let lacks: f64 = (0..2).filter(|at| out[*at]).map(|at| computed[at]).sum();
        let reading = Reading {
            sensor: 0,
            at,
            total_a: computed.iter().sum(),
            drawn_a: 0.0,
            variance: 0.01,
            skewed_a: 0.0,
        };
        let rest = Rest {
            above_a: 0.1 * (f64::from(tenth) * 12.9898).sin() - lacks,
            variance: 0.01,
            common: 1e-3,
        };
        feet.hear(&reading, rest, &computed);
        if tenth % 10 == 9 {
            feet.decide(at);
        }
    }
}

#[test]
fn the_panel_that_drops_out_under_feet_is_found_and_its_neighbour_is_not() {
    let mut feet = feet();
    walk(&mut feet, 80, |stands, _| [stands[0], false]);
    let [loose] = feet.loose() else {
        panic!("{:?}", feet.loose());
    };
    assert_eq!((loose.panel, loose.segment), (0, Some(0)));
    assert!(loose.evidence.contains("A in "), "{}", loose.evidence);
    feet.repaired(&[0]);
    assert_eq!(feet.loose(), []);
}

#[test]
fn one_that_drops_out_whoever_stands_where_is_not_under_feet() {
    let mut feet = feet();
    walk(&mut feet, 120, |_, tenth| [tenth % 17 < 5, false]);
    assert_eq!(feet.loose(), []);
}

#[test]
fn sound_panels_are_not_told() {
    let mut feet = feet();
    walk(&mut feet, 120, |_, _| [false; 2]);
    assert_eq!(feet.loose(), []);
}

/// Bayes' rule by hand: half the presses open it, the joint was open with odds of e² or closed.
#[test]
fn a_visit_is_a_mixture() {
    let one = mixed(0.5, &[2.0]);
    assert!((one - (0.5 + 0.5 * 2.0_f64.exp()).ln()).abs() < 1e-12);
    let two = mixed(0.5, &[2.0, 1.0]);
    let by_hand = 0.25 + 0.5 * 2.0_f64.exp() + 0.25 * 1.0_f64.exp();
    assert!((two - by_hand.ln()).abs() < 1e-12);
}
