use proptest::prelude::*;

use super::faults::{Fault, Spot};
use super::*;
use crate::sim::link::Chance;

/// Two panels of three segments of two pixels in one run, one behind the other on a feed, and one
/// that the same feed brings power to but another run data. 60 mA a colour, at full from 10.5 V.
fn floor(fed: &str, ohm_per_m: f64) -> Floor {
    let text = format!(
        "name = \"t\"\n[grid]\ncolumns = 3\nrows = 1\npanel_mm = [500, 500]\npanel = \"p\"\n\
         [pixel.d]\nslots = \"RGB\"\nvolts = 12\ndark_volts = 9\nfull_volts = 10.5\n\
         full_ma = {{ red = 60, green = 60, blue = 60 }}\nidle_ma = 2\n\
         [panel.p]\npixel = \"d\"\ncolumns = 3\nrows = 2\nsegments = [2, 2, 2]\n\
         strip = {{ ohm_per_m = {ohm_per_m}, pitch_mm = 100, fed = \"{fed}\" }}\n\
         [[node]]\nname = \"n\"\naddress = \"10.9.1.1\"\n\
         [[run]]\nnode = \"n\"\nstart = \"0:0:1\"\npanels = [\"A1..B1\"]\n\
         [[run]]\nnode = \"n\"\nstart = \"0:0:2\"\npanels = [\"C1\"]\n\
         [[circuit]]\nname = \"c\"\nvolts = 230\nrated_a = 10\n\
         [[supply]]\nname = \"s\"\ncircuit = \"c\"\nvolts = 12\nrated_a = 10\n\
         efficiency = 0.88\npower_factor = 0.95\n\
         [[feed]]\nname = \"f\"\nsupply = \"s\"\nfuse_a = 10\npositions = [\"A1..C1\"]\n\
         cable = {{ length_m = 0.1, mm2 = 2.5 }}\nlink = {{ length_m = 0.1, mm2 = 2.5 }}\n"
    );
    crate::floor::parse("made-up.toml", &text).unwrap()
}

const EVEN: Scatter = Scatter {
    reel: 0.0,
    own: 0.0,
};

fn real(fed: &str) -> Real {
    Real::new(&floor(fed, 0.05), &mut Chance::new(1), |_| EVEN)
}

fn flows(real: &mut Real, level: u8) -> Amperes {
    let frame = [level; 512];
    real.amperes_held(|_, _| Some(&frame))
}

fn spot(panel: usize, segment: usize) -> Spot {
    Spot { panel, segment }
}

/// Full light of a segment: two pixels of three colours of 60 mA.
const SEGMENT_A: f64 = 2.0 * 3.0 * 0.06;

/// What all dark panels draw: 18 pixels of 2 mA, a little less behind the voltage that is lost.
const IDLE_A: f64 = 18.0 * 0.002;

#[track_caller]
fn near(a: f64, b: f64, bound: f64) {
    assert!((a - b).abs() < bound, "{a} is not {b} ± {bound}");
}

/// By hand: whatever has lost its power draws nothing, idle included.
#[test]
fn an_open_supply_joint_takes_what_lies_behind_it() {
    // Of the first panel's three segments; joints 0 to 3 opened, of which some are not there.
    for (fed, whole) in [
        ("start", [0.0, 1.0, 2.0, 3.0]),
        ("end", [3.0, 2.0, 1.0, 0.0]),
        ("both", [3.0, 3.0, 3.0, 3.0]),
    ] {
        for (joint, whole) in whole.into_iter().enumerate() {
            let mut real = real(fed);
            real.afflict(&[(spot(0, joint), Fault::SupplyOpen)]);
            let a = flows(&mut real, 255);
            let each = SEGMENT_A + 2.0 * 0.002;
            near(a.panels[0], whole * each, 1e-3);
            near(a.panels[1], 3.0 * each, 1e-3);
            near(a.feeds[0], (6.0 + whole) * each, 2e-3);
            near(
                a.circuits[0],
                a.feeds[0] * 12.0 / (230.0 * 0.88 * 0.95),
                1e-9,
            );
        }
    }
    // Fed from both ends, two open joints take what lies between them.
    let mut real = real("both");
    let open = [1, 2].map(|joint| (spot(0, joint), Fault::SupplyOpen));
    real.afflict(&open);
    near(flows(&mut real, 255).panels[0], 2.0 * SEGMENT_A, 0.01);
    let shines: Vec<bool> = (real.shining()[0].iter())
        .map(|colours| colours.iter().all(|(_, share)| *share > 0.99))
        .collect();
    assert_eq!(shines, [true, false, true]);
}

/// A panel's link brings power to those behind it as well; data do not take that way.
#[test]
fn an_open_link_takes_the_panels_behind_it() {
    for (panel, whole) in [(0, 0.0), (1, 1.0), (2, 2.0)] {
        let mut real = real("start");
        real.afflict(&[(spot(panel, 0), Fault::LinkOpen)]);
        near(
            flows(&mut real, 255).feeds[0],
            whole * 3.0 * SEGMENT_A,
            0.03,
        );
    }
}

/// Ohm's law by hand, for the joint before the last segment: V = 12 − R·I. Behind it both drivers take
/// 0.36 A above 10.5 V and 0.36·(V − 9)/1.5 = 0.24·V − 2.16 below, and 0.000333·V idle. With 2 Ω
/// V = (12 − 0.72)/1.000667, above the knee; with 6 Ω V = (12 + 12.96)/(1 + 6 × 0.240333), below it.
#[test]
fn a_resistive_joint_dims_what_lies_behind_it() {
    for (ohm, volts) in [
        (2.0, 11.28 / 1.000_666_7),
        (6.0, 24.96 / (1.0 + 6.0 * 0.240_333_3)),
    ] {
        let floor = floor("start", 1e-6);
        let mut real = Real::new(&floor, &mut Chance::new(1), |_| EVEN);
        real.afflict(&[(spot(0, 2), Fault::SupplyResistive(ohm))]);
        let a = flows(&mut real, 255);
        let share = ((volts - 9.0) / 1.5_f64).min(1.0);
        let behind = 0.36 * share + 2.0 * 0.002 * volts / 12.0;
        // What is left out: a milliohm at each joint, and 1.4 mΩ of cable.
        near(a.panels[0], 2.0 * (SEGMENT_A + 0.004) + behind, 0.006);
        let shining = real.shining();
        near(shining[0][2][0].1, share, 0.01);
        near(shining[0][1][0].1, 1.0, 1e-9);
    }
}

#[test]
fn behind_an_open_data_joint_all_is_dark_or_holds_what_it_was_told() {
    for holds in [false, true] {
        let mut real = real("start");
        near(
            flows(&mut real, 51).feeds[0],
            9.0 * SEGMENT_A / 5.0 + IDLE_A,
            1e-3,
        );
        real.afflict(&[(spot(0, 1), Fault::DataOpen { holds })]);
        let a = flows(&mut real, 255);
        // Behind it: two segments of A1, and all of B1; C1 is in another run.
        let behind = if holds { SEGMENT_A / 5.0 } else { 0.0 };
        near(a.panels[0], SEGMENT_A + 2.0 * behind, 0.013);
        near(a.panels[1], 3.0 * behind, 0.013);
        near(a.panels[2], 3.0 * SEGMENT_A, 0.013);
        let shining = real.shining();
        near(shining[1][2][0].1, behind / SEGMENT_A, 1e-9);
        // A driver that has lost its power meanwhile has forgotten it.
        let open = (spot(0, 1), Fault::DataOpen { holds });
        real.afflict(&[open, (spot(1, 0), Fault::SupplyOpen)]);
        flows(&mut real, 255);
        real.afflict(&[open]);
        let a = flows(&mut real, 255);
        near(a.panels[1], 0.0, 0.013);
        near(a.panels[0], SEGMENT_A + 2.0 * behind, 0.013);
    }
}

#[test]
fn an_open_colour_wire_takes_one_colour_as_far_as_no_other_end_brings_it() {
    for (fed, joints, out) in [
        ("start", vec![1], vec![1, 2]),
        ("start", vec![0], vec![0, 1, 2]),
        ("end", vec![1], vec![0]),
        ("both", vec![1], vec![]),
        ("both", vec![1, 2], vec![1]),
    ] {
        let mut real = real(fed);
        let open = joints
            .iter()
            .map(|&joint| (spot(2, joint), Fault::ColourOpen(Colour::Green)));
        real.afflict(&open.collect::<Vec<_>>());
        let a = flows(&mut real, 255);
        let lost = crate::units::count(out.len()) * SEGMENT_A / 3.0;
        near(a.panels[2], 3.0 * SEGMENT_A - lost, 0.013);
        near(a.panels[0], 3.0 * SEGMENT_A, 0.013);
        for (segment, colours) in real.shining()[2].iter().enumerate() {
            for (colour, share) in colours {
                let dark = *colour == Colour::Green && out.contains(&segment);
                near(*share, if dark { 0.0 } else { 1.0 }, 1e-9);
            }
        }
    }
}

#[test]
fn segments_are_weak_and_stuck_by_themselves() {
    let mut real = real("start");
    let faults = [
        (spot(0, 1), Fault::Weak(0.75)),
        (spot(2, 2), Fault::Stuck(0.5)),
    ];
    real.afflict(&faults);
    let a = flows(&mut real, 255);
    near(a.panels[0], 2.75 * SEGMENT_A, 0.013);
    near(a.panels[2], 2.5 * SEGMENT_A, 0.013);
    let dark = flows(&mut real, 0);
    near(dark.feeds[0], 0.5 * SEGMENT_A + IDLE_A, 1e-3);
    // Without power even what is stuck is dark.
    real.afflict(&[faults[0], faults[1], (spot(2, 1), Fault::SupplyOpen)]);
    near(flows(&mut real, 0).panels[2], 2.0 * 0.002, 1e-4);
}

#[test]
fn what_a_floor_can_not_have_is_known() {
    let start = real("start");
    for (at, fault, there) in [
        (spot(0, 0), Fault::SupplyOpen, true),
        (spot(0, 3), Fault::SupplyOpen, false),
        (spot(3, 0), Fault::SupplyOpen, false),
        (spot(0, 3), Fault::Weak(0.5), false),
        (spot(0, 3), Fault::DataOpen { holds: true }, false),
        (spot(0, 2), Fault::ColourOpen(Colour::Red), true),
        (spot(0, 2), Fault::ColourOpen(Colour::White), false),
        (spot(0, 1), Fault::LinkOpen, false),
    ] {
        assert_eq!(start.has(at, fault), there, "{at:?} {fault:?}");
    }
    assert!(real("end").has(spot(0, 3), Fault::SupplyOpen));
    assert!(!real("end").has(spot(0, 0), Fault::SupplyOpen));
}

/// A floor of which the file says nothing of strips, with unused pixels, split and packed runs: the
/// same amperes as the plain sum of [`Truth`](crate::sim::truth::Truth), which has no copper.
#[test]
fn a_whole_floor_draws_what_the_sum_without_copper_says() {
    let mut floor = crate::floor::testing::floor();
    floor.panels[0].lead.unused_pixels = 2;
    let mut real = Real::new(&floor, &mut Chance::new(1), |_| EVEN);
    for level in [0, 128, 255] {
        let frame = [level; 512];
        let truth = crate::sim::truth::Truth::new(&floor).amperes_held(|_, _| Some(&frame));
        let really = flows(&mut real, level);
        for (a, b) in really.panels.iter().zip(&truth.panels) {
            near(*a, *b, 2e-3);
        }
    }
}

fn any_fault() -> impl Strategy<Value = (Spot, Fault)> {
    let fault = prop_oneof![
        Just(Fault::SupplyOpen),
        (0.1..5.0).prop_map(Fault::SupplyResistive),
        Just(Fault::LinkOpen),
        any::<bool>().prop_map(|holds| Fault::DataOpen { holds }),
        prop::sample::select(&Colour::ALL).prop_map(Fault::ColourOpen),
        (0.0..1.0).prop_map(Fault::Weak),
    ];
    (0_usize..3, 0_usize..4, fault)
        .prop_map(|(panel, segment, fault)| (spot(panel, segment), fault))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// To the last bit, whatever else is broken.
    #[test]
    fn what_opens_and_closes_again_leaves_the_same_currents(
        fed in prop::sample::select(&["start", "end", "both"]),
        others in prop::collection::vec(any_fault(), 0..4),
        comes in any_fault(),
        level in any::<u8>(),
    ) {
        // What holds a picture holds another one afterwards.
        let holds = |(_, fault): &(Spot, Fault)| matches!(fault, Fault::DataOpen { holds: true });
        prop_assume!(!others.iter().any(holds));
        let mut real = real(fed);
        real.afflict(&others);
        let before = flows(&mut real, level);
        let mut more = others.clone();
        more.push(comes);
        real.afflict(&more);
        flows(&mut real, level);
        real.afflict(&others);
        prop_assert_eq!(flows(&mut real, level), before);
    }

    /// Nothing that is open, resistive or weak makes any panel draw more than it would with the full
    /// voltage and nothing broken. While all drivers are above their knee, one more fault adds nothing to
    /// the feed's current but what a little more voltage lets idle pixels draw.
    #[test]
    fn what_opens_adds_no_current(
        fed in prop::sample::select(&["start", "end", "both"]),
        others in prop::collection::vec(any_fault(), 0..4),
        comes in any_fault(),
        level in any::<u8>(),
    ) {
        // What makes a weak segment less weak is none that opens.
        let weak = |fault: &Fault| matches!(fault, Fault::Weak(_));
        let stronger = |(spot, fault): &(Spot, Fault)| *spot == comes.0 && weak(fault) && weak(&comes.1);
        prop_assume!(!others.iter().any(stronger));
        let mut real = real(fed);
        real.afflict(&others);
        let before = flows(&mut real, level);
        let most = 3.0 * SEGMENT_A * f64::from(level) / 255.0 + IDLE_A / 3.0;
        let mut more = others.clone();
        more.push(comes);
        real.afflict(&more);
        let after = flows(&mut real, level);
        for panel in &after.panels {
            prop_assert!(*panel <= most + 1e-6, "{panel} > {most}");
        }
        let resistive = |(_, fault): &(Spot, Fault)| matches!(fault, Fault::SupplyResistive(_));
        if !more.iter().any(resistive) {
            prop_assert!(after.feeds[0] <= before.feeds[0] + 1e-4);
        }
    }
}
